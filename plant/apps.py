from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "plant"
    verbose_name = "Register"

    def ready(self) -> None:
        from plant.forms import use_our_words

        use_our_words()
