"""Gathers the folder of a depot: every machine of its fleet as it stands, what is missing first."""

from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.contents.check_due import wanted_of_many
from maintenance.contents.due import DueWork
from maintenance.contents.due import told as told_due
from maintenance.contents.fitness import fitness_of_many
from maintenance.contents.record import who
from maintenance.contents.shopping import shopping
from maintenance.contents.test import doubt, in_doubt
from maintenance.models import Check, Completion, DueLine, ElectricalTest, Inspection, Job, Stop
from maintenance.rules import due as due_rule
from maintenance.rules.fitness import DO_NOT_USE, NOT_YET_PASSED, Fitness
from maintenance.rules.words import day_text, figure_text, moment_text
from plant.models import Depot, Machine, Place
from reports.contents.plate import plate_of
from reports.pdf.bundle import Grid, Section
from reports.pdf.folder import Folder, MachinePage
from reports.pdf.page import Printed

# So many lines of a table fit on a machine's page; more are counted.
MOST = 8
REPAIRS = timedelta(days=365)
NOT_ON_RECORD = gettext_noop("None on record")
_PAST = (due_rule.OVERDUE, due_rule.NEEDED_BEFORE_USE)


def folder(depot: Depot, *, at: datetime, by: str, number: str) -> Folder:
    """Every machine of the depot that is not gone; a handful of queries, whatever their number.

    Args:
        at: the moment of gathering; by: the name of who asked for it; number: what it is called.
    """
    on = depot.day_of(at)
    local = moment_text(at.astimezone(depot.zone))
    machines = list(
        Machine.objects.filter(depot=depot)
        .in_fleet()
        .select_related("kind", "depot", "use_rate")
        .annotate(
            last_check=_last(Check, "-at"),
            last_look=_last(Inspection, "-at"),
            last_test=_last(ElectricalTest, "-at"),
            last_service=Subquery(
                Completion.objects.counting()
                .filter(due_line__machine=OuterRef("pk"), due_line__line__is_test=False)
                .order_by("-on", "-pk")
                .values("pk")[:1]
            ),
        )
        .order_by("number_key")
    )
    reads = _Reads(machines, on=on, at=at)
    pages = tuple(reads.page(machine) for machine in machines)
    gaps = [row for machine in machines for row in reads.gaps(machine)]
    with_gaps = len({row[0] for row in gaps})
    return Folder(
        number=number,
        depot=depot.name,
        printed=Printed(at=local, by=by),
        as_at=local,
        front=(
            (_("Machines"), str(len(machines))),
            (
                _("With something missing"),
                _("{with_gaps} of {count}").format(with_gaps=with_gaps, count=len(machines)),
            ),
            (_("Telephone"), depot.phone or _("none entered")),
        ),
        gaps=Section(
            key="gaps",
            title=_("What is missing"),
            none=_("Nothing is overdue, stopped or waiting for a check."),
            grid=Grid((_("Machine"), _("Where"), _("What")), (18, 18, 64), tuple(gaps)),
        ),
        shopping=_shopping(depot, on),
        machines=pages,
    )


def _last(model: Any, order: str) -> Subquery:
    rows = model.objects.filter(machine=OuterRef("pk")).order_by(order, "-pk")
    return Subquery(rows.values("pk")[:1])


def _in_bulk(rows: QuerySet[Any], pks: list[int | None]) -> dict[int, Any]:
    found: dict[int, Any] = {}
    known = [pk for pk in pks if pk is not None]
    for start in range(0, len(known), 500):  # SQLite takes so many values and not many more
        found |= rows.in_bulk(known[start : start + 500])
    return found


class _Reads:
    """Everything of all machines, read once."""

    def __init__(self, machines: list[Machine], *, on: date, at: datetime) -> None:
        self._on, self._at = on, at
        self._fit = fitness_of_many(machines, on)
        self._wanted = wanted_of_many(machines, at=at)
        self._doubts = in_doubt(machines)
        self._due: dict[int, list[DueWork]] = {each.pk: [] for each in machines}
        by_pk = {each.pk: each for each in machines}
        lines = list(
            DueLine.objects.filter(machine__in=machines)
            .select_related("line", "counter__use_rate")
            .order_by("due_on", "pk")
        )
        for line in lines:
            line.machine = by_pk[line.machine_id]
        for work in told_due(lines, on):
            self._due[work.line.machine_id].append(work)
        self._stops: dict[int, list[Stop]] = {}
        for stop in Stop.objects.standing().filter(machine__in=machines).select_related("job"):
            self._stops.setdefault(stop.machine_id, []).append(stop)
        self._jobs: dict[int, list[Job]] = {}
        repairs = Job.objects.filter(
            machine__in=machines, kind__in=(Job.Kind.FAULT, Job.Kind.BELT),
            state=Job.State.CLOSED, closed_at__gte=at - REPAIRS,
        )  # fmt: skip
        for job in repairs.order_by("-closed_at", "-pk"):
            self._jobs.setdefault(job.machine_id, []).append(job)
        self._checks, self._looks, self._tests = (
            _in_bulk(
                rows.select_related("record__by").prefetch_related("record__texts"),
                [getattr(each, name) for each in machines],
            )
            for rows, name in (
                (Check.objects.all(), "last_check"), (Inspection.objects.all(), "last_look"),
                (ElectricalTest.objects.all(), "last_test"),
            )
        )  # fmt: skip
        services = Completion.objects.select_related("due_line__line")
        self._services = _in_bulk(services, [each.last_service for each in machines])  # type: ignore[attr-defined]  # annotated

    def gaps(self, machine: Machine) -> list[tuple[str, ...]]:
        """What is past, stopped or not passed, each a row: machine, place, words."""
        fit, told = self._fit[machine.pk], []
        if fit.mark in (DO_NOT_USE, NOT_YET_PASSED):
            told += [f"{fit.mark}. {each.rstrip('.')}." for each in fit.reasons]
        told += [
            f"{each.state.capitalize()}: {each.line.line.title}, {_when(each)}."
            for each in self._due[machine.pk]
            if each.state in _PAST
        ]
        if self._wanted[machine.pk].overdue:
            told.append(str(self._wanted[machine.pk]))
        told += [doubt(each) for each in self._doubts.get(machine.pk, ())]
        return [(machine.number, _place(machine), each) for each in told]

    def page(self, machine: Machine) -> MachinePage:
        fit = self._fit[machine.pk]
        local = machine.depot
        missing = [row[2] for row in self.gaps(machine)]
        stops = fit.mark in (DO_NOT_USE, NOT_YET_PASSED)
        notes = [] if stops else [f"{each.rstrip('.')}." for each in fit.reasons]
        service = self._services.get(machine.last_service)  # type: ignore[attr-defined]  # annotated
        return MachinePage(
            plate=plate_of(machine),
            answer=_answer(fit, missing=bool(missing)),
            because=_counted(tuple(dict.fromkeys((*missing, *notes)))),
            facts=(
                (_("Where it is"), _place(machine)),
                (_("Last check"), self._done(self._checks.get(machine.last_check), machine)),  # type: ignore[attr-defined]
                (_("Last look-over or inspection"),
                 self._done(self._looks.get(machine.last_look), machine)),  # type: ignore[attr-defined]
                (_("Last electrical test"),
                 self._done(self._tests.get(machine.last_test), machine)),  # type: ignore[attr-defined]
                (_("Last service"),
                 f"{day_text(service.on)}: {service.due_line.line.title}" if service
                 else _(NOT_ON_RECORD)),
            ),
            parts=(
                _part(_("Next due"), (_("Work"), _("Due"), _("How it stands")), (40, 36, 24), [
                    (each.line.line.title, _when(each), _word(each.state))
                    for each in self._due[machine.pk]
                    if each.line.due_on or each.line.due_tenths
                ], _("No plan runs on this machine.")),
                _part(_("Open faults"), (_("Since"), _("What"), _("How it stands")), (20, 48, 32), [
                    (day_text(local.day_of(each.since)), each.words, each.get_kind_display())
                    for each in self._stops.get(machine.pk, [])
                ], _("No fault stands open.")),
                _part(_("Repairs in the last 12 months"),
                      (_("Closed"), _("Job"), _("What was done")), (18, 34, 48), [
                    (day_text(local.day_of(each.closed_at)), f"{each.number} {each.title}",
                     each.action)
                    for each in self._jobs.get(machine.pk, []) if each.closed_at
                ], _("No repair was closed in the last 12 months.")),
            ),
        )  # fmt: skip

    def _done(self, row: Check | Inspection | ElectricalTest | None, machine: Machine) -> str:
        if row is None:
            return _(NOT_ON_RECORD)
        day = day_text(machine.depot.day_of(row.at))
        if isinstance(row, ElectricalTest):
            return f"{day}: {row.what}, {row.result}. {who(row.record)}"
        return f"{day}: {row.get_mark_display()}. {who(row.record)}"


def _counted(because: tuple[str, ...]) -> tuple[str, ...]:
    """What fits on the page, and how much more there is; the front names what is missing whole."""
    if len(because) <= MOST:
        return because
    return (*because[:MOST], _("And {count} more, on the front.").format(count=len(because) - MOST))


def _answer(fit: Fitness, *, missing: bool) -> str:
    """Nothing on the page reads as fit while something is missing."""
    if fit.mark == DO_NOT_USE:
        return "DO NOT USE"
    if missing and fit.mark != NOT_YET_PASSED:
        return _("Something is missing: put it right before use")
    return _("{mark}, as at this day").format(mark=fit.mark)


def _part(
    title: str, heads: tuple[str, ...], shares: tuple[float, ...], rows: list[tuple[str, ...]],
    none: str,
) -> Section:  # fmt: skip
    more = (_("And {count} more.").format(count=len(rows) - MOST),) if len(rows) > MOST else ()
    return Section(
        key=title, title=title, words=more, none=none, grid=Grid(heads, shares, tuple(rows[:MOST]))
    )


def _when(work: DueWork) -> str:
    line, ways = work.line, []
    if line.due_on is not None:
        ways.append(day_text(line.due_on))
    if line.due_tenths is not None:
        ways.append(figure_text(line.due_tenths, line.line.measure))
    return " or ".join(ways) or "due"


def _word(state: str) -> str:
    return _("Not due yet") if state == due_rule.NOTHING else state.capitalize()


def _place(machine: Machine) -> str:
    place = Place(machine.place)
    at = f", {machine.site}" if place == Place.OUT and machine.site else ""
    return f"{place.label}{at}"


def _shopping(depot: Depot, on: date) -> Section | None:
    """What the next services need and what runs out; None where there is nothing to buy."""
    wanted = shopping(depot, on=on)
    rows = tuple(
        (str(need.want), need.name, group, " ".join(need.why))
        for group, needs in wanted.groups
        for need in needs
    )
    if not rows:
        return None
    return Section(
        key="shopping",
        title=_("Shopping list for the next 30 days"),
        grid=Grid(
            (_("Pieces"), _("What"), _("Where it is bought"), _("Why")), (10, 26, 24, 40), rows
        ),
    )
