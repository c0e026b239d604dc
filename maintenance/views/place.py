"""Moving a machine: what every such page shares, the plain moves, writing off."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext, gettext_noop

from maintenance.actions import place as action
from maintenance.actions.move import RIGHTS, place_key
from maintenance.forms.entry import EntryForm, sent
from maintenance.forms.place import MoveForm, WriteOffForm
from maintenance.models import Job, Transfer
from maintenance.views.acted import acted
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.models import Machine, Place
from plant.rights import Right, may

# Key of a plain move: the act, and how it is asked.
PLAIN: dict[str, tuple[Callable[..., Any], Place | None, Place, str]] = {
    "workshop": (action.to_workshop, Place.YARD, Place.WORKSHOP, gettext_noop("Into the workshop")),
    "yard": (action.to_yard, Place.WORKSHOP, Place.YARD, gettext_noop("Into the yard")),
    "lay-up": (
        action.lay_up,
        Place.YARD,
        Place.LAID_UP,
        gettext_noop("Lay it up: stored, not offered"),
    ),
    "bring-back": (
        action.bring_back,
        Place.LAID_UP,
        Place.YARD,
        gettext_noop("Bring it back into the yard"),
    ),
    "found": (
        action.found,
        Place.MISSING,
        Place.YARD,
        gettext_noop("It is found, and in the yard"),
    ),
    "missing": (action.report_missing, None, Place.MISSING, gettext_noop("It is missing")),
}


@login_required
@form_page
def move(request: UserRequest, pk: int) -> HttpResponse:
    """Every way on from where it is that this person may take."""
    machine = found_machine(request, pk, Right.CHECK)
    ways = _plain_ways(request, machine)
    form = MoveForm(**sent(request), moves=ways)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            PLAIN[given["move"]][0](
                machine=machine, at=now(), by=request.user, reason=given["reason"],
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            machine.refresh_from_db()
            messages.success(request, f"{machine}: {Place(machine.place).label}. Sealed.")
            return redirect("maintenance:machine", machine.pk)
    transfer = Transfer.objects.open().filter(machine=machine).select_related("to_depot").first()
    return render(
        request,
        "maintenance/move.html",
        {
            "machine": machine, "form": form, "ways": ways, "place": Place(machine.place).label,
            "links": _links(request, machine), "transfer": transfer,
        },
        status=422 if form.errors else 200,
    )  # fmt: skip


@login_required
@form_page
def write_off(request: UserRequest, pk: int) -> HttpResponse:
    machine = found_machine(request, pk, Right.WRITE_OFF)
    form = WriteOffForm(**sent(request), jobs=list(Job.objects.open().filter(machine=machine)))

    def act(given: dict[str, Any]) -> str:
        action.write_off(
            machine=machine, reason=given["reason"], jobs=form.named(), at=now(),
            by=request.user, record_id=given["entry"],
        )  # fmt: skip
        return gettext("{machine} is gone. Its history stays.").format(machine=machine)

    return act_page(
        request,
        machine,
        form,
        act,
        title=gettext("Write off"),
        button=gettext("Write it off"),
        heavy=True,
        note=gettext("Gone stays gone: a machine that turns up again is entered afresh."),
    )


def found_machine(request: UserRequest, pk: int, right: Right) -> Machine:
    return find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        right,
        depot="depot_id",
        pk=pk,
    )


def act_page(
    request: UserRequest,
    machine: Machine,
    form: EntryForm,
    act: Callable[[dict[str, Any]], str],
    **words: Any,
) -> HttpResponse:
    return acted(
        request,
        form,
        lambda given: f"{act(given)} Sealed.",
        then=("maintenance:machine", machine.pk),
        template="maintenance/place_act.html",
        machine=machine,
        **words,
    )


def _plain_ways(request: UserRequest, machine: Machine) -> list[tuple[str, str]]:
    here = Place(machine.place)
    ways = []
    for key, (_, start, to, asked) in PLAIN.items():
        if start is not None and start != here:
            continue
        step = (place_key(here), place_key(to))
        right = RIGHTS.get(step)
        if right is not None and may(request.user, right, machine.depot_id):
            ways.append((key, gettext(asked)))
    return ways


def _links(request: UserRequest, machine: Machine) -> list[tuple[str, str]]:
    """Acts with a page of their own: address name and verb."""
    may_move = may(request.user, Right.MOVE, machine.depot_id)
    links: list[tuple[str, str]] = []
    if may_move and machine.place == Place.YARD:
        links.append(("reports:issue", gettext("Issue")))
    if may_move and machine.place == Place.OUT:
        links += [
            ("maintenance:take_back", gettext("Take back")),
            ("maintenance:pass_on", gettext("Pass on")),
            ("maintenance:tell_stay", gettext("Who has it, and until when")),
        ]
    if may_move and machine.place in (Place.YARD, Place.WORKSHOP):
        links.append(("maintenance:send", gettext("Send to another depot")))
    leaves = RIGHTS.get((place_key(machine.place), "gone"))
    if leaves and may(request.user, leaves, machine.depot_id):
        links.append(("maintenance:write_off", gettext("Write off")))
    return links
