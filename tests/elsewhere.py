"""Another place for the same program: an own data folder and database, reached by its commands."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings as live
from django.db import connection

ROOT = Path(__file__).parents[1]


def run(name: str, *told: str, data: Path, database: str = "") -> subprocess.CompletedProcess[str]:
    """A command of manage.py in another place, with the keys of this one."""
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "plant.config.settings",
        "DATA_DIR": str(data),
        "DATABASE_URL": database,
        "BROKER_URL": "filesystem://",
        "SECRET_KEY": live.SECRET_KEY,
        "CHECKPOINT_KEY": str(live.CHECKPOINT_KEY),
    }
    command = [sys.executable, "manage.py", name, *told]
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)


@contextmanager
def empty_database(name: str) -> Iterator[str]:
    """The address of an empty database of the same engine; "" for the embedded one."""
    if connection.vendor == "sqlite":
        yield ""
        return
    given = connection.settings_dict
    with connection.cursor() as cursor:
        cursor.execute(f"DROP DATABASE IF EXISTS {name}")
        cursor.execute(f"CREATE DATABASE {name}")
    yield f"postgresql://{given['USER']}@{given['HOST']}:{given['PORT']}/{name}"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")
