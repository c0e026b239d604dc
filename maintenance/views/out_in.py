"""Out and in: can it go, and the lists of what is out, due back, stopped, moving and missing."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.contents import out_in as reads
from maintenance.contents.elsewhere import elsewhere
from maintenance.forms.out_in import CanGoForm
from maintenance.tables import paged
from maintenance.tables_out_in import MissingTable, OutTable, StayTable, TransferTable
from plant.http import UserRequest, anywhere, today_at
from plant.models import Machine, User
from plant.rights import Right

ANSWERS = 5
STOPPED = 8


@login_required
@require_safe
def out_in(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.MOVE)
    at = now()
    on = today_at(request.user, at)
    form = CanGoForm(request.GET if "q" in request.GET else None)
    asked = form.cleaned_data["q"] if form.is_bound and form.is_valid() else ""
    found: list[Machine] = []
    more = 0
    if asked:
        matching = Machine.objects.visible_to(request.user, Right.MOVE).in_fleet().matching(asked)
        more = max(0, matching.count() - ANSWERS)
        found = list(matching.select_related("kind", "depot").order_by("number_key")[:ANSWERS])
    stopped = reads.stopped_out(reads.machines_out(request.user), on)
    stays = reads.stays_out(request.user)
    lists: dict[str, tuple[str, Any]] = {
        "out": (_("out"), stays),
        "back": (_("due back by tomorrow"), reads.due_back(stays, on)),
        "due": (_("due for service while out"), reads.due_for_service(stays, on)),
        "untold": (_("out, nobody said with whom"), reads.nobody_told(request.user)),
        "moving": (_("moving"), reads.on_the_way(request.user)),
        "missing": (_("missing"), reads.missing(request.user)),
    }
    shown = request.GET.get("list", "")
    shown = shown if shown in lists else "out"
    return render(
        request,
        "maintenance/out_in.html",
        {
            "form": form,
            "asked": asked,
            "answers": reads.can_go_many(found, on, user=request.user),
            "more": more,
            "words": asked,
            "elsewhere": elsewhere(request.user, asked, on=on),
            "stopped": reads.told_stopped(stopped.order_by("number_key")[:STOPPED], on),
            "stopped_count": stopped.count(),
            "counts": [(key, word, rows.count()) for key, (word, rows) in lists.items()],
            "shown": shown,
            "heading": lists[shown][0],
            "table": _table(request.user, shown, lists[shown][1], request, on=on, at=at),
        },
        status=422 if form.errors else 200,
    )


def _table(user: User, shown: str, rows: Any, request: UserRequest, *, on: Any, at: Any) -> Any:
    table: Any
    if shown == "moving":
        table = TransferTable(rows, user=user)
    elif shown == "missing":
        table = MissingTable(rows)
    elif shown == "untold":
        table = OutTable(rows)
    else:
        table = StayTable(rows, on=on)
    return paged(table, request, at=at)
