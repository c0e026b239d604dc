"""The real settings on a test's own database, for worker processes that a test starts."""

import os

from plant.config.settings import *  # noqa: F403
from plant.config.settings import CELERY_BROKER_TRANSPORT_OPTIONS, DATABASES

if prefix := os.environ.get("TEST_QUEUE"):
    CELERY_BROKER_TRANSPORT_OPTIONS["global_keyprefix"] = prefix
DATABASES["default"]["NAME"] = os.environ["TEST_DATABASE"]
