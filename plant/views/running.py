"""Two pages to print and hang up by the computer: start and stop, and restore."""

import shlex
import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.db import connection
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from plant.http import UserRequest, anywhere
from plant.models import Chore, SetUp
from plant.rights import Right


def _told(request: UserRequest) -> dict[str, Any]:
    """Where things lie on this very computer, so that the paper can be followed word by word."""
    anywhere(request.user, Right.RUN_SYSTEM)
    postgresql = connection.vendor == "postgresql"
    redis = settings.CELERY_BROKER_URL != "filesystem://"
    # What a service is told by its settings file, a command line is told in front of the command;
    # but no password goes on a paper.
    before = ["DATABASE_URL=…"] * postgresql + ["BROKER_URL=…"] * redis
    before.append(f"DATA_DIR={shlex.quote(str(settings.DATA_DIR))}")
    last = Chore.objects.filter(kind=Chore.Kind.BACKUP, state=Chore.State.DONE)
    return {
        "program": settings.BASE_DIR,
        "command": " ".join([*before, shlex.quote(sys.executable), "manage.py"]),
        "data": settings.DATA_DIR,
        "backups": settings.BACKUP_DIR,
        "kept": settings.BACKUPS_KEPT,
        "secret_key": Path(settings.DATA_DIR) / "secret_key",
        "checkpoint_key": settings.CHECKPOINT_KEY,
        "postgresql": postgresql,
        "redis": redis,
        "address": settings.SITE_ADDRESS,
        "begun": SetUp.objects.first(),
        "last": last.order_by("-ended_at").first(),
    }


@login_required
@require_safe
def start_and_stop(request: UserRequest) -> HttpResponse:
    return render(request, "plant/start_and_stop.html", _told(request))


@login_required
@require_safe
def restore_page(request: UserRequest) -> HttpResponse:
    return render(request, "plant/restore_page.html", _told(request))
