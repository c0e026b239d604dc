"""Plans changed by people: a new version of a line from a day, a new line, a line taken off."""

import re
import uuid
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date, datetime

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from maintenance.actions.due import expire, rework
from maintenance.actions.plan import give_plans
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.models import DueLine, PlanLine, PlanStep
from maintenance.models.plan import due_rule
from maintenance.rules.due import DueRule, rule_text
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Counter, Depot, Machine, MachineKind, Measure, Record, User
from plant.rights import Right, depots_where, role_for
from plant.sealing import Canonical

MOST_STEPS = 40
OWN = "our own plan"


@dataclass(frozen=True, kw_only=True)
class StepTold:
    """One step as it is asked; opens_guard: a guard comes off, so isolating comes first."""

    text: str
    target: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    caution: str = ""
    opens_guard: bool = False


@dataclass(frozen=True, kw_only=True)
class LineTold:
    """A line of a plan as somebody wants it; what its meter counts is its measure, in tenths."""

    title: str
    level: int = 0
    measure: str = Measure.HOURS
    first_tenths: int | None = None
    every_tenths: int | None = None
    first_months: int | None = None
    every_months: int | None = None
    first_days: int | None = None
    every_days: int | None = None
    counts_from: str = PlanLine.Counts.DONE
    notice_days: int = 14
    notice_tenths: int = 100
    minutes: int = 30
    is_test: bool = False
    ended: bool = False
    source: str = OWN
    trust: str = "common practice, no source"
    steps: tuple[StepTold, ...] = ()

    @property
    def rule(self) -> DueRule:
        """The rule of the line.

        Raises:
            Refused: the figures make no rule.
        """
        try:
            return due_rule(self)
        except ValueError as wrong:
            raise Refused(f"{str(wrong)[:1].upper()}{str(wrong)[1:]}.") from wrong


@transaction.atomic
def change_line(
    *,
    line: PlanLine,
    told: LineTold,
    from_on: date,
    reason: str,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> PlanLine:
    """Gives a line a new version from a day on. What was done by the old one stays as it was.

    Machines follow on that day. A version of today moves a machine's own line at once; of a kind
    there may be thousands, so the background works them out within minutes.

    Raises:
        Refused: a day that is past, a version of that day already, or figures that make no rule.
        PermissionError: no role of theirs changes plans.
    """
    told_words = _checked(told)
    if told.measure != line.measure:
        raise Refused(
            _("What a line counts does not change. End this one and add another."), field="measure"
        )
    depots = _depots(line, by=by)
    today = min(depot.day_of(at) for depot in depots)
    if from_on < today:
        raise Refused(
            _("A plan is never changed backwards. Give today or a later day."), field="from_on"
        )
    reason = words(reason, field="reason", what="reason", low=10, high=500)
    data = _as_told(line.key, told, from_on=from_on, kind=line.kind)
    if _sealed_before(record_id, data, reason, by=by, machine=line.machine):
        return PlanLine.objects.get(
            kind=line.kind, machine=line.machine, key=line.key, from_on=from_on
        )
    same_day = PlanLine.objects.filter(
        kind=line.kind, machine=line.machine, key=line.key, from_on=from_on
    )
    if same_day.exists():
        raise Refused(
            _("A version begins on that day already. Choose another day."), field="from_on"
        )
    made = _keep(
        told_words, key=line.key, kind=line.kind, machine=line.machine, from_on=from_on,
        supplies=line.supplies, needs_belt=line.needs_belt,
    )  # fmt: skip
    _seal(data, reason, depots=depots, machine=line.machine, at=at, by=by, record_id=record_id)
    if line.machine is not None:
        rework(locked(line.machine), at=at)
    else:
        expire(line, at=at)
    return made


@transaction.atomic
def add_line(
    *,
    kind: MachineKind | None = None,
    machine: Machine | None = None,
    told: LineTold,
    reason: str,
    at: datetime,
    by: User,
    supplies: Sequence[str] = (),
    record_id: uuid.UUID | None = None,
) -> PlanLine:
    """A new line: for every machine of a kind, or for one machine alone; counted from today.

    Raises:
        Refused: no such figures, or the kind has a line of this name.
        PermissionError: no role of theirs changes plans.
    """
    if (kind is None) == (machine is None):
        raise ValueError("a line is of a kind or of a machine")
    told_words = _checked(told)
    key = _key(told_words.title)
    line = PlanLine(kind=kind, machine=machine, key=key)
    depots = _depots(line, by=by)
    on = min(depot.day_of(at) for depot in depots)
    reason = words(reason, field="reason", what="reason", low=10, high=500)
    data = _as_told(key, told, from_on=on, kind=kind)
    if _sealed_before(record_id, data, reason, by=by, machine=machine):
        return PlanLine.objects.filter(kind=kind, machine=machine, key=key).latest("from_on")
    if PlanLine.objects.filter(kind=kind, machine=machine, key=key).exists():
        raise Refused(_("There is a line of this name already. Change that one."), field="title")
    made = _keep(
        told_words, key=key, kind=kind, machine=machine, from_on=on, supplies=list(supplies),
        needs_belt=False,
    )  # fmt: skip
    _seal(data, reason, depots=depots, machine=machine, at=at, by=by, record_id=record_id)
    if machine is not None:
        machine = locked(machine)
        begun = DueLine(
            machine=machine, line=made, start_on=machine.depot.day_of(at), worked_out_at=at,
            counter=Counter.objects.filter(machine=machine, measure=made.measure).first(),
        )  # fmt: skip
        begun.start_tenths = begun.total_tenths(machine)
        begun.save()
        rework(machine, at=at)
    else:
        fleet = Machine.objects.in_fleet().filter(kind=kind).select_related("kind", "depot")
        give_plans(fleet, at=at)
    return made


@transaction.atomic
def rest_line(
    *,
    due_line: DueLine,
    reason: str,
    at: datetime,
    by: User,
    wake: bool = False,
    record_id: uuid.UUID | None = None,
) -> DueLine:
    """Takes a line off one machine, or asks it again; its history stays.

    Raises:
        Refused: a safety test, which is not taken off one machine; or no reason.
        PermissionError: no role of theirs changes plans.
    """
    machine = locked(due_line.machine)
    role = role_for(by, Right.PLAN, machine.depot_id)
    due_line = DueLine.objects.select_related("line").get(pk=due_line.pk)
    reason = words(reason, field="reason", what="reason", low=10, high=400)
    told: dict[str, Canonical] = {
        "line": due_line.line.key,
        "title": due_line.line.title,
        "change": "asked again" if wake else "taken off this machine",
    }
    texts = {"reason": reason}
    if sealed_before(
        record_id=record_id, kind=Record.Kind.PLAN, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return due_line
    if due_line.line.is_test and not wake:
        raise Refused(_("A safety test is not taken off one machine. Nothing was changed."))
    seal(
        kind=Record.Kind.PLAN, depot=machine.depot, machine=machine, data=told, happened_at=at,
        received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    due_line.resting_because = "" if wake else reason
    due_line.save(update_fields=["resting_because"])
    rework(machine, at=at)
    due_line.refresh_from_db()
    return due_line


def _depots(line: PlanLine, *, by: User) -> list[Depot]:
    """The depots that the change concerns; a line of a kind concerns every depot that has some."""
    if line.machine is not None:
        role_for(by, Right.PLAN, line.machine.depot_id)
        return [line.machine.depot]
    mine = depots_where(by, Right.PLAN)
    if not mine:
        raise PermissionError(_("No role here changes plans."))
    with_some = Q(machines__kind=line.kind)
    real = Depot.objects.real()
    return list(real.filter(with_some | Q(pk__in=mine)).distinct().order_by("pk"))


def _checked(told: LineTold) -> LineTold:
    title = words(told.title, field="title", what=_("the work"), low=1, high=80)
    if told.measure not in Measure:
        raise Refused(_("Choose what the line counts."), field="measure")
    if not told.ended:
        told.rule  # noqa: B018 - refuses figures that make no rule
    if not 0 <= told.level <= 9:
        raise Refused(_("A level is 0 to 9."), field="level")
    if not 1 <= told.minutes <= 1440:
        raise Refused(_("Enter 1 to 1440 minutes."), field="minutes")
    if len(told.steps) > MOST_STEPS:
        raise Refused(_("At most {most_steps} steps.").format(most_steps=MOST_STEPS))
    for step in told.steps:
        if step.low is not None and step.high is not None and step.low > step.high:
            raise Refused(_("{step}: the least is above the most.").format(step=step.text))
    clean = {field.name: getattr(told, field.name) for field in fields(told)}
    return LineTold(**clean | {"title": title})


def _keep(
    told: LineTold,
    *,
    key: str,
    kind: MachineKind | None,
    machine: Machine | None,
    from_on: date,
    supplies: list[str],
    needs_belt: bool,
) -> PlanLine:
    given = asdict(told)
    steps = given.pop("steps")
    made = PlanLine.objects.create(
        kind=kind, machine=machine, key=key, from_on=from_on, supplies=supplies,
        needs_belt=needs_belt, **given,
    )  # fmt: skip
    PlanStep.objects.bulk_create(
        PlanStep(line=made, position=position, **step) for position, step in enumerate(steps, 1)
    )
    return made


def _as_told(
    key: str, told: LineTold, *, from_on: date, kind: MachineKind | None
) -> dict[str, Canonical]:
    steps: list[Canonical] = [step.text for step in told.steps]
    return {
        "line": key,
        "kind_of_machine": kind.key if kind else None,
        "title": told.title,
        "change": "ends" if told.ended else "asked as follows",
        "from_on": from_on.isoformat(),
        "rule": "" if told.ended else rule_text(told.rule),
        "minutes": str(told.minutes),
        "steps": steps,
    }


def _sealed_before(
    record_id: uuid.UUID | None,
    data: dict[str, Canonical],
    reason: str,
    *,
    by: User,
    machine: Machine | None,
) -> bool:
    before = sealed_before(
        record_id=record_id, kind=Record.Kind.PLAN, machine=machine, by=by, told=data,
        texts={"reason": reason},
    )  # fmt: skip
    return before is not None


def _seal(
    data: dict[str, Canonical],
    reason: str,
    *,
    depots: Sequence[Depot],
    machine: Machine | None,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None,
) -> None:
    """One record in the chain of each depot concerned; the page's own number goes to the first."""
    mine = depots_where(by, Right.PLAN)
    for number, depot in enumerate(depots):
        home = depot.pk if depot.pk in mine else min(mine)
        seal(
            kind=Record.Kind.PLAN, depot=depot, machine=machine, data=data, happened_at=at,
            received_at=at, by=by, role=role_for(by, Right.PLAN, home),
            texts={"reason": reason}, record_id=record_id if number == 0 else None,
        )  # fmt: skip


def _key(title: str) -> str:
    key = re.sub(r"[^a-z0-9]+", "_", title.lower()).strip("_")[:60]
    return key or "work"
