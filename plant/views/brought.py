"""What the page of every file that people bring shows: how far it is, and how its rows stand."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.http import UserRequest
from plant.models import BroughtFile

READY, ASK = "ready", "ask"


def addresses(space: str, names: Mapping[str, str], pk: int) -> dict[str, str]:
    """Where each part and act of a file is: list, page, progress, sort, save, drop, left_over."""
    return {
        key: reverse(f"{space}:{name}", args=[] if key == "list" else [pk])
        for key, name in names.items()
    }


def progress(run: Any, *, saved: Q, saving: str) -> dict[str, Any]:
    """How far the saving is; the reading takes seconds and shows no count.

    saved: which of the rows that are ready are saved; saving: what is saved, in words.
    """
    if run.step != BroughtFile.Step.SAVE:
        return {"run": run}
    counted = run.rows.filter(verdict=READY).aggregate(
        all=Count("pk"), done=Count("pk", filter=saved)
    )
    return {"run": run, "saving": saving, **counted}


def progress_answer(request: UserRequest, shown: dict[str, Any], *, page: str) -> HttpResponse:
    """The part of the page that is asked for again while the background works.

    shown: as ``progress`` gave it; page: the name of the address of the whole page, to which
    everybody goes who asks for this part by itself.
    """
    run = shown["run"]
    if not request.htmx:
        return redirect(page, run.pk)
    if run.is_open:
        return render(request, "plant/_brought_progress.html", shown)
    answer = HttpResponse()
    answer.headers["HX-Refresh"] = "true"
    return answer


def standing(run: Any, request: HttpRequest, words: Mapping[str, str]) -> dict[str, Any]:
    """How the rows of the file stand, and which of them the address asks for.

    words: each verdict in the words of its count; in this order.
    """
    counted = dict(run.rows.values_list("verdict").annotate(n=Count("pk")).order_by())
    total = sum(counted.values())
    verdict = request.GET.get("verdict", "")
    return {
        "run": run,
        "counts": [(key, _(told), counted[key]) for key, told in words.items() if counted.get(key)],
        "total": total,
        "ready": counted.get(READY, 0),
        "asking": counted.get(ASK, 0),
        "left_over": total - counted.get(READY, 0),
        "verdict": verdict,
        "rows": run.rows.filter(verdict=verdict) if verdict in counted else run.rows.all(),
        "saved_before": run.saved_before(),
    }
