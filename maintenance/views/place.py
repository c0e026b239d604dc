"""Moving a machine: issue, take back, pass on, send, receive, and the plain moves."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext, gettext_noop, ngettext

from maintenance.actions import place as action
from maintenance.actions import stay as stays
from maintenance.actions import transfer as transfers
from maintenance.actions.move import RIGHTS
from maintenance.contents.competence import standing
from maintenance.contents.fitness import fitness_of
from maintenance.contents.out_in import can_go
from maintenance.forms.entry import EntryForm, sent
from maintenance.forms.place import (
    BEFORE,
    BackForm,
    GoingForm,
    MoveForm,
    ReceiveForm,
    SendForm,
    TurnBackForm,
    WriteOffForm,
)
from maintenance.models import DueLine, Job, Skill, Stay, Stop, Transfer
from maintenance.rules import place as rule
from plant.actions.refusal import Refused
from plant.http import UserRequest, find, form_page
from plant.lazy_text import as_written
from plant.models import Machine, Place
from plant.rights import Right, may

_PHONE_FIRST = gettext_noop(
    "The site phone is what the desk rings when somebody stops the machine there."
)
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


def issue(
    request: UserRequest, pk: int, *, also: Callable[[Stay], None] | None = None
) -> HttpResponse:
    """The form of the issue and the act. Its address lies with the paper that goes with it.

    Args:
        also: what is done with the new stay, in the transaction of the issue.
    """
    machine = _found(request, pk, Right.MOVE)
    at = now()
    answer = can_go(machine, machine.depot.day_of(at), user=request.user)
    form = GoingForm(**sent(request), machine=machine, notes=answer.notes, issues=True)
    if request.method == "POST" and form.is_valid():
        given, going = form.cleaned_data, form.going()
        try:
            if given.get("plan") == BEFORE:
                jobs = stays.work_first(
                    machine=machine, until=going.due_back_on, at=at, by=request.user,
                    record_id=given["entry"],
                )  # fmt: skip
                numbers = ", ".join(job.number for job in jobs)
                messages.success(
                    request,
                    gettext("It stays here until its work is done: {numbers}.").format(
                        numbers=numbers
                    ),
                )
                return redirect("maintenance:machine", machine.pk)
            stays.issue(
                machine=machine, going=going, at=at, by=request.user, dial=form.dial(),
                plan=given.get("plan", ""), plan_reason=given.get("plan_reason", ""),
                note_shown=bool(given.get("note_shown")), passport=given["passport"],
                photos=form.photos(), record_id=given["entry"], also=also,
            )  # fmt: skip
        except Refused as refused:
            _refuse(form, refused)
        else:
            messages.success(
                request,
                gettext("{machine} is out at {site}. Sealed.").format(
                    machine=machine, site=going.site
                ),
            )
            return redirect("maintenance:machine", machine.pk)
    return render(
        request,
        "maintenance/issue.html",
        {
            "machine": machine, "form": form, "answer": answer, "title": gettext("Issue"),
            "button": gettext("Issue it"),
        },
        status=422 if form.errors else 200,
    )  # fmt: skip


@login_required
@form_page
def pass_on(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.MOVE)
    at = now()
    fit = fitness_of(machine, machine.depot.day_of(at))
    notes = [reason for reason in fit.reasons if reason.startswith("Carry on")]
    form = GoingForm(**sent(request), machine=machine, notes=notes, passes=True)
    care = f"{fit.mark}: {' '.join(fit.reasons)}" if fit.mark == "Do not use" else ""

    def act(given: dict[str, Any]) -> str:
        stay = stays.pass_on(
            machine=machine, going=form.going(), taken_by=given["taken_by"], at=at,
            by=request.user, plan=given.get("plan", ""),
            plan_reason=given.get("plan_reason", ""),
            note_shown=bool(given.get("note_shown")), record_id=given["entry"],
        )  # fmt: skip
        return gettext("Passed on to {site}. Not yet passed until it is checked there.").format(
            site=stay.site
        )

    return _act(
        request,
        machine,
        form,
        act,
        title=gettext("Pass on"),
        button=gettext("Pass it on"),
        care=care,
        note=gettext("From one site to another without coming home."),
    )


@login_required
@form_page
def tell_stay(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.MOVE)
    stay = Stay.objects.open().filter(machine=machine).select_related("hirer").first()
    known = {"site": machine.site}
    if stay is not None:
        known = {name: getattr(stay, name) for name in ("site", "site_phone", "due_back_on")}
        known |= {"went_with": stay.went_with}
        if stay.hirer:
            known |= {"hirer": stay.hirer.name, "hirer_phone": stay.hirer.phone}
    form = GoingForm(**sent(request), machine=machine, initial=known)

    def act(given: dict[str, Any]) -> str:
        kept = stays.tell_stay(
            machine=machine, going=form.going(), at=now(), by=request.user,
            plan=given.get("plan", ""), plan_reason=given.get("plan_reason", ""),
            record_id=given["entry"],
        )  # fmt: skip
        return gettext("{machine}: at {site}, due back {due_back_on}.").format(
            machine=machine, site=kept.site, due_back_on=f"{kept.due_back_on:%-d %b %Y}"
        )

    return _act(
        request,
        machine,
        form,
        act,
        title=gettext("Who has it"),
        button=gettext("Keep this"),
        note=gettext(_PHONE_FIRST),
    )


@login_required
@form_page
def take_back(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.MOVE)
    stay = Stay.objects.open().filter(machine=machine).select_related("hirer", "record").first()
    form = BackForm(**sent(request), machine=machine, stay=stay)
    if request.method == "POST" and form.is_valid():
        given, at = form.cleaned_data, now()
        try:
            stays.take_back(
                machine=machine, at=at, by=request.user, dial=form.dial(),
                came_with=form.came_with(), missing=form.missing(),
                condition=given["condition"], fuel=given.get("fuel", ""), clean=given["clean"],
                photos=form.photos(), record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            _refuse(form, refused)
        else:
            return _looked_over_next(request, machine, at=at)
    photos = stay.record.photos.filter(erased_at__isnull=True) if stay else ()
    return render(
        request,
        "maintenance/take_back.html",
        {"machine": machine, "form": form, "stay": stay, "photos": photos},
        status=422 if form.errors else 200,
    )


def _looked_over_next(request: UserRequest, machine: Machine, *, at: datetime) -> HttpResponse:
    """On to the look-over where this person is competent; else the machine's page says who is
    waited for."""
    back = gettext("{machine} is back in the yard.").format(machine=machine)
    cannot = standing(
        request.user, depot_id=machine.depot_id, skill=Skill.INSPECT,
        family=machine.kind.family, on=machine.depot.day_of(at),
    ).refusal  # fmt: skip
    if cannot:
        messages.success(
            request,
            gettext("{back} Not yet passed: a competent person looks it over.").format(back=back),
        )
        return redirect("maintenance:machine", machine.pk)
    messages.success(request, gettext("{back} Not yet passed: look it over now.").format(back=back))
    return redirect("maintenance:look_over", machine.pk)


@login_required
@form_page
def send(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.MOVE)
    form = SendForm(**sent(request), machine=machine, user=request.user)

    def act(given: dict[str, Any]) -> str:
        transfer = transfers.send(
            machine=machine, to=given["to"], went_with=given["went_with"], at=now(),
            by=request.user, record_id=given["entry"],
        )  # fmt: skip
        return gettext("Sent to {to_depot}. It counts here until it is received there.").format(
            to_depot=transfer.to_depot
        )

    stops = Stop.objects.standing().filter(machine=machine).count()
    jobs = Job.objects.open().filter(machine=machine).count()
    goes = ngettext(
        "Goes with it: {count} fault that stand", "Goes with it: {count} faults that stand", stops
    ).format(count=stops)
    jobs_too = ngettext("{count} open job.", "{count} open jobs.", jobs).format(count=jobs)
    note = f"{goes}, {jobs_too}"
    return _act(
        request,
        machine,
        form,
        act,
        title=gettext("Send to another depot"),
        button=gettext("Send it"),
        note=note,
    )


@login_required
@form_page
def receive(request: UserRequest, pk: int) -> HttpResponse:
    transfer = _transfer(request, pk, "to_depot_id")
    form = ReceiveForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            transfers.receive(
                transfer=transfer, at=now(), by=request.user,
                workshop=given["where"] == "workshop", came_with=given["came_with"],
                condition=given["condition"], record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request, gettext("Received. It counts here now. Not yet passed: look it over.")
            )
            return redirect("maintenance:machine", transfer.machine_id)
    return _transfer_page(
        request, transfer, form, title=gettext("Receive"), button=gettext("Receive it")
    )


@login_required
@form_page
def turn_back(request: UserRequest, pk: int) -> HttpResponse:
    transfer = _transfer(request, pk, "from_depot_id")
    form = TurnBackForm(**sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            transfers.turn_back(
                transfer=transfer, reason=given["reason"], at=now(), by=request.user,
                record_id=given["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, gettext("Back in the yard. Not yet passed: look it over."))
            return redirect("maintenance:machine", transfer.machine_id)
    return _transfer_page(
        request, transfer, form, title=gettext("Turned back"), button=gettext("Take it in again")
    )


@login_required
@form_page
def move(request: UserRequest, pk: int) -> HttpResponse:
    """Every way on from where it is that this person may take."""
    machine = _found(request, pk, Right.CHECK)
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
    machine = _found(request, pk, Right.WRITE_OFF)
    form = WriteOffForm(**sent(request), jobs=list(Job.objects.open().filter(machine=machine)))

    def act(given: dict[str, Any]) -> str:
        action.write_off(
            machine=machine, reason=given["reason"], jobs=form.named(), at=now(),
            by=request.user, record_id=given["entry"],
        )  # fmt: skip
        return gettext("{machine} is gone. Its history stays.").format(machine=machine)

    return _act(
        request,
        machine,
        form,
        act,
        title=gettext("Write off"),
        button=gettext("Write it off"),
        heavy=True,
        note=gettext("Gone stays gone: a machine that turns up again is entered afresh."),
    )


# --- What they share ------------------------------------------------------------------------


def _found(request: UserRequest, pk: int, right: Right) -> Machine:
    return find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        right,
        depot="depot_id",
        pk=pk,
    )


def _transfer(request: UserRequest, pk: int, depot: str) -> Transfer:
    return find(
        Transfer.objects.visible_to(request.user, Right.SEE).select_related(
            "machine__kind", "machine__depot", "from_depot", "to_depot"
        ),
        request.user,
        Right.MOVE,
        depot=depot,
        pk=pk,
    )


def _refuse(form: EntryForm, refused: Refused) -> None:
    """Shows a refusal; what it asks for besides is put on the form first."""
    if isinstance(form, GoingForm) and refused.field in ("plan", "plan_reason"):
        form.ask_plan()
    if isinstance(form, GoingForm | BackForm) and refused.field == "dial":
        form.ask_again()
    form.refuse(refused)


def _act(
    request: UserRequest,
    machine: Machine,
    form: EntryForm,
    act: Callable[[dict[str, Any]], str],
    **words: Any,
) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        try:
            told = act(form.cleaned_data)
        except Refused as refused:
            _refuse(form, refused)
        else:
            messages.success(request, f"{told} Sealed.")
            return redirect("maintenance:machine", machine.pk)
    return render(
        request,
        "maintenance/place_act.html",
        {"machine": machine, "form": form} | words,
        status=422 if form.errors else 200,
    )


def _transfer_page(
    request: UserRequest, transfer: Transfer, form: EntryForm, **words: Any
) -> HttpResponse:
    machine = transfer.machine
    return render(
        request,
        "maintenance/transfer.html",
        {
            "transfer": transfer,
            "machine": machine,
            "form": form,
            "stops": Stop.objects.standing().filter(machine=machine),
            "jobs": Job.objects.open().filter(machine=machine),
            "lines": DueLine.objects.filter(machine=machine, due_on__isnull=False)
            .select_related("line")
            .order_by("due_on")[:3],
        }
        | words,
        status=422 if form.errors else 200,
    )


def _plain_ways(request: UserRequest, machine: Machine) -> list[tuple[str, str]]:
    here = Place(machine.place)
    ways = []
    for key, (_, start, to, asked) in PLAIN.items():
        if start is not None and start != here:
            continue
        step = (_rule_key(here), _rule_key(to))
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
    leaves = RIGHTS.get((_rule_key(Place(machine.place)), "gone"))
    if leaves and may(request.user, leaves, machine.depot_id):
        links.append(("maintenance:write_off", gettext("Write off")))
    return links


def _rule_key(place: Place) -> rule.PlaceKey:
    return next(each.key for each in rule.PLACES if each.word == as_written(place.label))
