"""The Celery app; its settings are the ``CELERY_`` names of settings.py."""

import os

from celery import Celery
from kombu.transport import TRANSPORT_ALIASES

TRANSPORT_ALIASES["filesystem"] = "plant.folder_queue:Transport"
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.config.settings")
app = Celery("plant")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
