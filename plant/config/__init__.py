"""The Django project. Loading it loads the Celery app, so whoever has the settings has Celery."""

from plant.config.celery import app as celery_app

__all__ = ["celery_app"]
