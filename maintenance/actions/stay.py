"""Out with somebody: issue, pass on, who has it and how long, take back."""

import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext

from maintenance.actions.meter import record_meter
from maintenance.actions.move import (
    go,
    mark_at,
    moved_before,
    open_on,
    place_word,
    refuse_move,
    seal_move,
)
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.contents.due import past
from maintenance.contents.fitness import fitness_of
from maintenance.contents.out_in import FallsDue, can_go, falls_due
from maintenance.models import DueLine, Hirer, Job, Move, PlanStep, Stay
from maintenance.rules import fitness as fitness_rule
from maintenance.rules.words import day_text
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Place, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical
from plant.security_log import note

LONGEST_HIRE_DAYS = 730


class NotFit(Refused):
    """The machine may not leave; reasons says why, one by one. The attempt is kept on record."""

    def __init__(self, reasons: Sequence[str]) -> None:
        super().__init__(" ".join(f"{reason.rstrip('.')}." for reason in reasons))
        self.reasons = tuple(reasons)


@dataclass(frozen=True, kw_only=True)
class Going:
    """Who gets a machine, where it goes, and until when.

    hirer: empty for a site of our own; went_with: leads, guards, keys, in words, one a line.
    """

    site: str
    due_back_on: date
    hirer: str = ""
    hirer_phone: str = ""
    site_phone: str = ""
    went_with: str = ""
    condition: str = ""
    fuel: str = Stay.Fuel.NOT_TOLD
    clean: str = Stay.Clean.NOT_TOLD


@dataclass(frozen=True, kw_only=True)
class Dial:
    """What the meter shows: [0.1 h] and as it was typed; confirmed: read again and right."""

    tenths: int
    typed: str
    confirmed: bool = False


def issue(
    *,
    machine: Machine,
    going: Going,
    at: datetime,
    by: User,
    dial: Dial | None = None,
    plan: str = Stay.Plan.NOTHING,
    plan_reason: str = "",
    note_shown: bool = False,
    passport: bool = False,
    photos: Mapping[str, bytes] | None = None,
    record_id: uuid.UUID | None = None,
    also: Callable[[Stay], None] | None = None,
) -> Stay:
    """Issues a machine to a hirer or a site of our own.

    Args:
        plan: what is done about work that falls due while it is out; see Stay.Plan.
        plan_reason: why it goes all the same, in 10 letters or more.
        note_shown: the hirer was shown the note that the machine carries.
        passport: the passport goes with it, printed or sent.
        also: what is done with the new stay in the same transaction.

    Raises:
        NotFit: Do not use, not yet passed, or work that is needed first; kept on record, whoever
            tries.
        Refused: not in the yard, no plan for what falls due, or something is missing.
    """
    with _attempt_kept(machine, gettext("Issue"), at=at, by=by, record_id=record_id):
        machine = locked(machine)
        role = role_for(by, Right.MOVE, machine.depot_id)
        going, plan_reason = _clean(going), words(plan_reason, field="plan_reason", what="reason")
        told = _told(gettext("Issue"), going, plan=plan) | {
            "note_shown": note_shown, "passport": passport, "meter": _figure(dial),
            "fuel": str(going.fuel), "clean": str(going.clean),
        }  # fmt: skip
        texts = _texts(going, plan_reason=plan_reason)
        if before := moved_before(machine, record_id, by=by, told=told, texts=texts):
            stay = Stay.objects.get(machine=machine, out_at=before.happened_at)
        else:
            on = machine.depot.day_of(at)
            _refuse_unready(machine, on=on, by=by, note_shown=note_shown, passport=passport)
            due = _refuse_unplanned(machine, going, on=on, plan=plan, plan_reason=plan_reason)
            machine = _dialled(machine, dial, at=at, by=by)
            record = seal_move(
                machine, "Out", told=told | {"falls_due": due} | open_on(machine), texts=texts,
                photos=photos, at=at, by=by, role=role, record_id=record_id,
            )  # fmt: skip
            go(machine, Place.OUT, record, at=at, site=going.site)
            stay = _stay(
                machine, going, record, at=at, plan=plan if due else "", plan_reason=plan_reason
            )
        if also is not None:
            also(stay)
        return stay


def _refuse_unready(
    machine: Machine, *, on: date, by: User, note_shown: bool, passport: bool
) -> None:
    """Refuses to issue what is not in the yard or not fit, or goes without its note or passport."""
    if machine.place != Place.YARD:
        raise Refused(
            gettext("{machine} is {place}. Only a machine in the yard is issued.").format(
                machine=machine, place=place_word(machine)
            )
        )
    answer = can_go(machine, on)
    if not answer.yes:
        raise NotFit(answer.reasons)
    has_note = bool(answer.notes)
    if has_note and not note_shown:
        raise Refused(gettext("Show the hirer the note first, then tick it."), field="note_shown")
    if not passport:
        raise Refused(
            gettext("The passport goes with it. Print or send it, then tick."), field="passport"
        )
    refuse_move(
        machine, "out", by=by, mark=answer.mark, has_note=has_note,
        met={"passport", *(["note shown"] if note_shown else [])},
    )  # fmt: skip


def pass_on(
    *,
    machine: Machine,
    going: Going,
    taken_by: str,
    at: datetime,
    by: User,
    plan: str = Stay.Plan.NOTHING,
    plan_reason: str = "",
    note_shown: bool = False,
    record_id: uuid.UUID | None = None,
) -> Stay:
    """Passes a machine from one site to another without its coming home.

    It is *Not yet passed* from then on, until whoever takes it over has checked it.

    Args:
        taken_by: who takes it over and checks it before use.

    Raises:
        NotFit: Do not use, or a test is out of date; kept on record, whoever tries.
        Refused: not out, no plan for what falls due, or something is missing.
    """
    with _attempt_kept(machine, gettext("Pass on"), at=at, by=by, record_id=record_id):
        machine = locked(machine)
        role = role_for(by, Right.MOVE, machine.depot_id)
        going, plan_reason = _clean(going), words(plan_reason, field="plan_reason", what="reason")
        taken_by = words(
            taken_by, field="taken_by", what=gettext("who takes it over"), low=1, high=80
        )
        told = _told(gettext("Pass on"), going, plan=plan) | {"note_shown": note_shown}
        texts = _texts(going, plan_reason=plan_reason) | {"taken_by": taken_by}
        if before := moved_before(machine, record_id, by=by, told=told, texts=texts):
            return Stay.objects.get(machine=machine, out_at=before.happened_at)
        on = machine.depot.day_of(at)
        _refuse_unfit(machine, on=on, by=by, note_shown=note_shown)
        due = _refuse_unplanned(machine, going, on=on, plan=plan, plan_reason=plan_reason)
        record = seal_move(
            machine, "Out", told=told | {"falls_due": due}, texts=texts, at=at, by=by, role=role,
            record_id=record_id,
        )  # fmt: skip
        end_stay(machine, record, at=at)
        # On another site whoever takes it over checks it; the depot's look-over waits for its
        # return.
        go(machine, Place.OUT, record, at=at, site=going.site, check=True)
        return _stay(
            machine, going, record, at=at, plan=plan if due else "", plan_reason=plan_reason
        )


def _refuse_unfit(machine: Machine, *, on: date, by: User, note_shown: bool) -> None:
    """Refuses to pass on what is not out, not fit, past a test, or goes without its note."""
    if machine.place != Place.OUT:
        raise Refused(
            gettext("{machine} is {place}. Only a machine that is out is passed on.").format(
                machine=machine, place=place_word(machine)
            )
        )
    fit = fitness_of(machine, on)
    if fit.mark == fitness_rule.DO_NOT_USE:
        raise NotFit([f"{fit.mark}: {reason}" for reason in fit.reasons])
    lines = DueLine.objects.filter(machine=machine, line__is_test=True).select_related("line")
    if tests := list(past(lines, on)):
        raise NotFit(
            [gettext("Needed before use: {line}").format(line=line.line.title) for line in tests]
        )
    has_note = any(each.startswith("Carry on") for each in fit.reasons)
    if has_note and not note_shown:
        raise Refused(
            gettext("Show the new site the note first, then tick it."), field="note_shown"
        )
    refuse_move(
        machine, "out", by=by, mark=fit.mark, has_note=has_note,
        met={"check by receiver", *(["note shown"] if note_shown else [])},
    )  # fmt: skip


@transaction.atomic
def tell_stay(
    *,
    machine: Machine,
    going: Going,
    at: datetime,
    by: User,
    out_at: datetime | None = None,
    plan: str = Stay.Plan.NOTHING,
    plan_reason: str = "",
    record_id: uuid.UUID | None = None,
) -> Stay:
    """Says who has a machine that is out already, or that it stays longer. It moves nothing.

    Args:
        out_at: since when, for a machine that was brought in from a list; None: since now.

    Raises:
        Refused: not out, or no plan for what falls due until it is back.
    """
    machine = locked(machine)
    role = role_for(by, Right.MOVE, machine.depot_id)
    going, plan_reason = _clean(going), words(plan_reason, field="plan_reason", what="reason")
    told = _told(gettext("Told who has it"), going, plan=plan)
    texts = _texts(going, plan_reason=plan_reason)
    if before := moved_before(machine, record_id, by=by, told=told, texts=texts):
        found = Stay.objects.filter(machine=machine).first()
        return Stay.objects.filter(record=before).first() or _known(found)
    if machine.place != Place.OUT:
        raise Refused(
            gettext("{machine} is {place}. This is for a machine that is out.").format(
                machine=machine, place=place_word(machine)
            )
        )
    on = machine.depot.day_of(at)
    due = _refuse_unplanned(machine, going, on=on, plan=plan, plan_reason=plan_reason)
    record = seal_move(
        machine, "Out", told=told | {"falls_due": due}, texts=texts, at=at, by=by, role=role,
        record_id=record_id,
    )  # fmt: skip
    machine.site = going.site
    machine.save(update_fields=["site"])
    stay = Stay.objects.open().filter(machine=machine).first()
    plan = plan if due else ""
    if stay is None:
        return _stay(machine, going, record, at=out_at or at, plan=plan, plan_reason=plan_reason)
    stay.hirer = _hirer(machine.depot, going)
    stay.site, stay.site_phone = going.site, going.site_phone
    stay.due_back_on, stay.plan, stay.plan_reason = going.due_back_on, plan, plan_reason
    stay.went_with = going.went_with or stay.went_with
    stay.record = record
    stay.save()
    return stay


@transaction.atomic
def work_first(
    *,
    machine: Machine,
    until: date,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> list[Job]:
    """The choice not to let it go before its work is done: a job for each line that falls due.

    Args:
        until: the day on which it was to be back.

    Raises:
        Refused: nothing falls due until that day.
    """
    machine = locked(machine)
    role = role_for(by, Right.MOVE, machine.depot_id)
    on = machine.depot.day_of(at)
    told: dict[str, Canonical] = {
        "decision": "done before it goes",
        "until": until.isoformat(),
    }
    due = [each for each in falls_due(machine, on=on, until=until) if each.needs_plan]
    before = sealed_before(
        record_id=record_id, kind=Record.Kind.DECISION, machine=machine, by=by,
        told=told, texts={},
    )  # fmt: skip
    if before is None:
        if not due:
            raise Refused(gettext("Nothing falls due until then, so nothing has to be done first."))
        seal(
            kind=Record.Kind.DECISION, depot=machine.depot, machine=machine,
            data=told | {"falls_due": [each.words for each in due]}, happened_at=at,
            received_at=at, by=by, role=role, record_id=record_id,
        )  # fmt: skip
    return [_job_for(each.line, at=at) for each in due]


def _job_for(due_line: DueLine, *, at: datetime) -> Job:
    """The job of this cycle of the line; the timed raising finds it there and adds none."""
    line = due_line.line
    return Job.objects.get_or_create(
        due_line=due_line,
        cycle=due_line.cycle,
        defaults={
            "machine": due_line.machine,
            "kind": Job.Kind.TEST if line.is_test else Job.Kind.SERVICE,
            "state": Job.State.LOOKED_AT,
            "title": line.title,
            "due_on": due_line.due_on,
            "due_tenths": due_line.due_tenths,
            "opened_at": at,
            "is_safety": PlanStep.objects.filter(line=line, opens_guard=True).exists(),
        },
    )[0]


@transaction.atomic
def take_back(
    *,
    machine: Machine,
    at: datetime,
    by: User,
    dial: Dial | None = None,
    came_with: str = "",
    missing: str = "",
    condition: str = "",
    fuel: str = Stay.Fuel.NOT_TOLD,
    clean: str = Stay.Clean.NOT_TOLD,
    photos: Mapping[str, bytes] | None = None,
    record_id: uuid.UUID | None = None,
) -> Move:
    """Takes a machine back into the yard. It is *Not yet passed* until it is looked over.

    Args:
        missing: what went with it and did not come back, in words.

    Raises:
        Refused: it is not out, or its meter figure is questioned and nobody has looked again.
    """
    machine = locked(machine)
    role = role_for(by, Right.MOVE, machine.depot_id)
    came_with = words(came_with, field="came_with", what=gettext("what came with it"))
    condition = words(condition, field="condition", what="condition")
    missing = words(missing, field="missing", what=gettext("what did not come back"))
    told: dict[str, Canonical] = {
        "move": "Take back",
        "meter": _figure(dial),
        "fuel": str(fuel),
        "clean": str(clean),
    }
    texts = {"came_with": came_with, "missing": missing, "condition": condition}
    if before := moved_before(machine, record_id, by=by, told=told, texts=texts):
        return before.move_row
    if machine.place != Place.OUT:
        raise Refused(
            gettext("{machine} is {place}. Only a machine that is out comes back.").format(
                machine=machine, place=place_word(machine)
            )
        )
    refuse_move(machine, "in yard", by=by, mark=mark_at(machine, at))
    machine = _dialled(machine, dial, at=at, by=by)
    record = seal_move(
        machine, "In yard", told=told, texts=texts, photos=photos, at=at, by=by, role=role,
        record_id=record_id,
    )  # fmt: skip
    end_stay(
        machine, record, at=at, came_with=came_with, missing_in=missing, condition_in=condition,
        fuel_in=fuel, clean_in=clean,
    )  # fmt: skip
    return go(machine, Place.YARD, record, at=at, look=True)


def end_stay(machine: Machine, record: Record, *, at: datetime, **seen: str) -> None:
    """Ends the stay that is open; seen: its fields that say how the machine came back."""
    Stay.objects.open().filter(machine=machine).update(
        back_at=at, back_tenths=machine.hours_tenths, ended=record, **seen
    )


def _known(stay: Stay | None) -> Stay:
    if stay is None:
        raise Refused(gettext("This was saved before. Open the page afresh."))
    return stay


def _refuse_unplanned(
    machine: Machine, going: Going, *, on: date, plan: str, plan_reason: str
) -> list[Canonical]:
    """What falls due until it is back, in words; refused where nothing is chosen about it."""
    days = (going.due_back_on - on).days
    if days < 0:
        raise Refused(
            gettext("Give {on} or a later day.").format(on=day_text(on)), field="due_back_on"
        )
    if days > LONGEST_HIRE_DAYS:
        raise Refused(gettext("Give a day within two years."), field="due_back_on")
    due = falls_due(machine, on=on, until=going.due_back_on)
    asked = [each for each in due if each.needs_plan]
    if asked and plan not in (Stay.Plan.VISIT, Stay.Plan.SWAP, Stay.Plan.ANYWAY):
        raise Refused(
            gettext("Falls due while out: {asked}. Choose what is done.").format(
                asked=_listed(asked)
            ),
            field="plan",
        )
    if asked and plan == Stay.Plan.ANYWAY:
        if tests := [each for each in asked if each.is_test]:
            raise Refused(
                gettext("A test cannot be put off: {tests}.").format(tests=_listed(tests)),
                field="plan",
            )
        if len(plan_reason) < 10:
            raise Refused(gettext("Write the reason, in 10 letters or more."), field="plan_reason")
    return [each.words for each in asked]


def _listed(due: Sequence[FallsDue]) -> str:
    return "; ".join(each.words for each in due)


def _clean(going: Going) -> Going:
    def text(name: str, what: str, low: int = 0, high: int = 400) -> str:
        return words(getattr(going, name), field=name, what=what, low=low, high=high)

    return Going(
        site=text("site", "site", 1, 120),
        due_back_on=going.due_back_on,
        hirer=text("hirer", "hirer", 0, 80),
        hirer_phone=text("hirer_phone", "hirer's phone", 0, 40),
        site_phone=text("site_phone", gettext("site phone"), 0, 40),
        went_with=text("went_with", gettext("what goes with it")),
        condition=text("condition", "condition"),
        fuel=Stay.Fuel(going.fuel),
        clean=Stay.Clean(going.clean),
    )


def _told(move: str, going: Going, *, plan: str) -> dict[str, Canonical]:
    return {"move": move, "due_back": going.due_back_on.isoformat(), "plan": str(plan)}


def _texts(going: Going, *, plan_reason: str) -> dict[str, str]:
    return {
        "hirer": going.hirer, "hirer_phone": going.hirer_phone, "site": going.site,
        "site_phone": going.site_phone, "went_with": going.went_with,
        "condition": going.condition, "plan_reason": plan_reason,
    }  # fmt: skip


def _dialled(machine: Machine, dial: Dial | None, *, at: datetime, by: User) -> Machine:
    if dial is None:
        return machine
    record_meter(
        machine=machine, dial_tenths=dial.tenths, typed=dial.typed, at=at, by=by,
        confirmed=dial.confirmed,
    )  # fmt: skip
    return locked(machine)


def _figure(dial: Dial | None) -> Canonical:
    if dial is None:
        return None
    si = units.decimal_string(units.seconds_of_tenths(dial.tenths))
    return {"typed": dial.typed, "si": si, "unit": "s"}


def _hirer(depot: Depot, going: Going) -> Hirer | None:
    if not going.hirer:
        return None
    hirer, _ = Hirer.objects.get_or_create(depot=depot, name=going.hirer)
    if going.hirer_phone and going.hirer_phone != hirer.phone:
        hirer.phone = going.hirer_phone
        hirer.save(update_fields=["phone"])
    return hirer


def _stay(
    machine: Machine, going: Going, record: Record, *, at: datetime, plan: str, plan_reason: str
) -> Stay:
    return Stay.objects.create(
        machine=machine, hirer=_hirer(machine.depot, going), site=going.site,
        site_phone=going.site_phone, out_at=at, due_back_on=going.due_back_on,
        out_tenths=machine.hours_tenths, went_with=going.went_with,
        condition_out=going.condition, fuel_out=going.fuel, clean_out=going.clean, plan=plan,
        plan_reason=plan_reason if plan else "", record=record,
    )  # fmt: skip


@contextmanager
def _attempt_kept(
    machine: Machine, move: str, *, at: datetime, by: User, record_id: uuid.UUID | None
) -> Iterator[None]:
    """One transaction; who tries to let go what may not leave stands on record, once an entry."""
    try:
        with transaction.atomic():
            yield
    except NotFit as refused:
        note("machine not fit to leave", machine=machine.pk, user=by.pk)
        with transaction.atomic():
            machine = locked(machine)
            number = None if record_id is None else uuid.uuid5(record_id, "refused")
            if number is None or not Record.objects.filter(pk=number).exists():
                seal_move(
                    machine, place_word(machine), told={"move": move, "refused": True},
                    texts={"why": "\n".join(refused.reasons)}, at=at, by=by,
                    role=role_for(by, Right.MOVE, machine.depot_id), record_id=number,
                )  # fmt: skip
        raise
