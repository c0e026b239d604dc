"""The real settings with a quick hasher, eager tasks, and a data folder of the run's own."""

import os
import tempfile
from pathlib import Path

os.environ.setdefault("DATA_DIR", tempfile.mkdtemp(prefix="plant-tests-"))
os.environ.setdefault("SECRET_KEY", "tests only, never used to serve anybody")
os.environ.setdefault("LOG_LEVEL", "WARNING")
os.environ.setdefault("MAIL_URL", "folder:")

from plant.config.settings import *  # noqa: F403
from plant.config.settings import DATA_DIR, DATABASES, STORAGES

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# Real files, so that a second process or thread sees what the first has saved.
if "sqlite3" in str(DATABASES["default"]["ENGINE"]):
    DATABASES["default"]["TEST"] = {"NAME": DATA_DIR / f"test-{os.getpid()}.sqlite3"}
else:
    # A test's database need not outlive a power cut.
    DATABASES["default"]["OPTIONS"]["options"] = "-c synchronous_commit=off"
STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
Path(DATA_DIR / "static").mkdir(exist_ok=True)
CELERY_TASK_ALWAYS_EAGER = True
CELERY_TASK_EAGER_PROPAGATES = True
ALLOWED_HOSTS = ["*"]
