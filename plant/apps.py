from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "plant"
    verbose_name = "Register"

    def ready(self) -> None:
        from django.utils.translation import gettext, ngettext

        from plant.forms import use_our_words
        from plant.translate import look_up_by

        use_our_words()
        look_up_by(gettext, ngettext)
