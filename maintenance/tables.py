"""What the lists share; and those of machines, what is held, due work, jobs, odd checks."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.timezone import localdate
from django.utils.translation import gettext

from maintenance.contents.belt_life import BeltWork
from maintenance.contents.due import listed, why, with_depots
from maintenance.contents.fitness import due_state_of, due_state_of_many, fitness_of_many
from maintenance.contents.held import told
from maintenance.contents.job import is_late
from maintenance.contents.open_days import OpenDays
from maintenance.models import DueLine, Job, Stop
from maintenance.rules.tick_through import Look
from maintenance.rules.words import day_text
from plant.addresses import address_of, link_to
from plant.http import UserRequest
from plant.lazy_text import gettext_lazy
from plant.models import Machine, User
from plant.rights import Right, may
from plant.templatetags.marks import mark

PAGE = 50
DAY = {"td": {"class": "day"}}


class CountedPages(Paginator):  # type: ignore[type-arg]  # generic in the stubs alone
    """Pages of a list whose length is known before."""

    def __init__(self, rows: Any, per_page: int, *, count: int) -> None:
        super().__init__(rows, per_page)
        self.count = count


def paged(
    table: tables.Table, request: HttpRequest, *, at: datetime, count: int | None = None
) -> Any:
    """Sorts and pages the table by the address, and notes when it was worked out.

    count: how many rows there are in all, where that was counted before.
    """
    pages: dict[str, Any] = {"per_page": PAGE, "silent": True}
    if count is not None:
        pages |= {"paginator_class": CountedPages, "count": count}
    tables.RequestConfig(request, paginate=pages).configure(table)
    table.worked_out_at = at
    return table


class DayColumn(tables.Column):
    """A day, or the day of a moment where the reader is. (The library's own compiles a template
    for each cell.)"""

    def render(self, value: date) -> str:
        return day_text(localdate(value) if isinstance(value, datetime) else value)


def machine_link(machine: Machine) -> SafeString:
    return link_to("maintenance:machine", machine.pk, machine.number)


class _ListOfMachines(tables.Table):
    """How a machine is called in a list: its number as a link, its kind, where it is."""

    def render_number(self, record: Machine) -> SafeString:
        return machine_link(record)

    def render_kind(self, record: Machine) -> str:
        return f"{record.kind.name}, {record.nickname}" if record.nickname else record.kind.name

    def render_place(self, record: Machine) -> SafeString:
        where = mark(record.place)
        return format_html("{} {}", where, record.site) if record.site else where


class MachineTable(_ListOfMachines):
    """Machines with their three marks, which are read for the page that is shown."""

    number = tables.Column(
        verbose_name=gettext_lazy("Machine"), order_by="number_key", empty_values=()
    )
    kind = tables.Column(accessor="kind__name", verbose_name=gettext_lazy("Kind"), empty_values=())
    depot = tables.Column(accessor="depot__name", verbose_name=gettext_lazy("Depot"))
    place = tables.Column(verbose_name=gettext_lazy("Where it is"), empty_values=())
    fitness = tables.Column(
        verbose_name=gettext_lazy("May it be used"), orderable=False, empty_values=()
    )
    due = tables.Column(verbose_name=gettext_lazy("What is due"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy("No machine fits. Take a filter off, or look for another number.")
        order_by = "number"

    def __init__(self, machines: QuerySet[Machine], *, on: date, **more: Any) -> None:
        super().__init__(machines, **more)
        self.on = on

    def before_render(self, request: HttpRequest) -> None:
        shown = [row.record for row in self.page.object_list]
        self.fitness_of = fitness_of_many(shown, self.on)
        self.due_of = due_state_of_many(shown, self.on)

    def render_fitness(self, record: Machine) -> SafeString:
        return mark(self.fitness_of[record.pk].mark)

    def render_due(self, record: Machine) -> SafeString:
        return mark(self.due_of[record.pk])


class HeldTable(_ListOfMachines):
    """Machines that must not be used, held longest first, each with what would free it."""

    number = tables.Column(
        verbose_name=gettext_lazy("Machine"), order_by="number_key", empty_values=()
    )
    kind = tables.Column(accessor="kind__name", verbose_name=gettext_lazy("Kind"), empty_values=())
    place = tables.Column(verbose_name=gettext_lazy("Where it is"), empty_values=())
    since = DayColumn(verbose_name=gettext_lazy("Since"), attrs=DAY)
    stopped = tables.Column(
        verbose_name=gettext_lazy("What stopped it"), orderable=False, empty_values=()
    )
    steps = tables.Column(
        verbose_name=gettext_lazy("What would free it"), orderable=False, empty_values=()
    )

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")
    CSV = (
        "Machine", "Kind", "Depot", "Where it is", "Site", "Since", "What stopped it", "Jobs",
        "What would free it",
    )  # fmt: skip

    class Meta:
        empty_text = gettext_lazy(
            "No machine is held like that. One that somebody stops, or that fails a check or a "
            "test, stands here until a release check frees it."
        )
        order_by = "since"

    def __init__(self, machines: QuerySet[Machine], *, on: date, user: User, **more: Any) -> None:
        super().__init__(machines, **more)
        self.on = on
        self.user = user

    def before_render(self, request: HttpRequest) -> None:
        self.held = told([row.record for row in self.paginated_rows], self.on)

    def csv_rows(self) -> Iterator[tuple[object, ...]]:
        """The same machines, all of them, for a spreadsheet."""
        machines = [row.record for row in self.rows]
        held = told(machines, self.on)
        for machine in machines:
            each = held[machine.pk]
            yield (
                machine.number, machine.kind.name, machine.depot.name,
                machine.get_place_display(), machine.site, each.since,
                "; ".join(stop.words for stop in each.stops),
                ", ".join(stop.job.number for stop in each.stops if stop.job),
                " ".join(each.steps),
            )  # fmt: skip

    def render_stopped(self, record: Machine) -> SafeString:
        return format_html_join("", "<p>{}{}</p>", map(_stopped_by, self.held[record.pk].stops))

    def render_steps(self, record: Machine) -> SafeString:
        told = format_html_join("", "<p>{}</p>", ((step,) for step in self.held[record.pk].steps))
        links = [
            format_html('<a href="{}">Decide</a>', address_of("maintenance:decide", stop.pk))
            for stop in self.held[record.pk].stops
            if stop.waits_for_a_decision and may(self.user, Right.DECIDE, record.depot_id)
        ]
        ready = len(self.held[record.pk].steps) == 1
        if ready and may(self.user, Right.RELEASE, record.depot_id):
            links = [link_to("maintenance:release", record.pk, gettext("Release check"))]
        return format_html("{}<p>{}</p>", told, format_html_join(" ", "{}", ((e,) for e in links)))


def _stopped_by(stop: Stop) -> tuple[str, str | SafeString]:
    if stop.job is None:
        return stop.words, ""
    job = link_to("maintenance:job", stop.job.pk, stop.job.number)
    return stop.words, format_html(", {}", job)


class DueTable(tables.Table):
    """Work inside its notice or past it, each with the sentence that says why."""

    machine = tables.Column(
        accessor="machine__number", order_by="machine__number_key",
        verbose_name=gettext_lazy("Machine"), empty_values=(),
    )  # fmt: skip
    title = tables.Column(
        accessor="line__title", verbose_name=gettext_lazy("Work"), empty_values=()
    )
    plan_on = tables.Column(verbose_name=gettext_lazy("Do by"), empty_values=())
    due_on = tables.Column(verbose_name=gettext_lazy("Due on"), empty_values=(), attrs=DAY)
    state = tables.Column(
        verbose_name=gettext_lazy("How it stands"), orderable=False, empty_values=()
    )
    why = tables.Column(verbose_name=gettext_lazy("Why"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("line of work"), gettext_lazy("lines of work")

    class Meta:
        empty_text = gettext_lazy(
            "Nothing is due here. Work stands here from its notice until it is done. The plan of "
            "its kind begins on the day a machine is added."
        )
        order_by = "plan_on"

    CSV = (
        "Machine", "Kind", "Depot", "Work", "Do by", "Due on", "Due at", "Counted in",
        "Put off to", "Meter likely there on", "How it stands", "Why",
    )  # fmt: skip

    def __init__(
        self,
        lines: QuerySet[DueLine],
        *,
        on: date,
        open_days: Mapping[int, OpenDays] | None = None,
        **more: Any,
    ) -> None:
        super().__init__(listed(lines), **more)
        self.on = on
        self.lines = lines
        self.open_days = open_days or {}

    def before_render(self, request: UserRequest) -> None:
        with_depots((row.record for row in self.paginated_rows), request.user)

    def csv_rows(self) -> Iterator[tuple[object, ...]]:
        """The same lines as on the page, all of them, for a spreadsheet."""
        for line in self.lines.select_related("machine__kind", "machine__depot"):
            machine = line.machine
            figure = None if line.due_tenths is None else Decimal(line.due_tenths) / 10
            counts = "" if figure is None else "h" if line.by_hours else line.line.measure
            yield (
                machine.number, machine.kind.name, machine.depot.name, line.line.title,
                self.day_to_do(line), line.due_on, figure, counts, line.put_off_to, line.likely_on,
                due_state_of(line, machine, self.on), why(line),
            )  # fmt: skip

    @staticmethod
    def belt_row(belt: BeltWork) -> tuple[object, ...]:
        """A belt to order or to look at again, as the list below the table has it."""
        job, machine, day = belt.job, belt.job.machine, belt.job.due_on
        stands = (
            gettext("overdue")
            if belt.is_late
            else gettext("due")
            if day
            else gettext("by the meter alone")
        )
        return (
            machine.number, machine.kind.name, machine.depot.name, job.title, day, day, None, "",
            None, None, stands, belt.why,
        )  # fmt: skip

    def day_to_do(self, line: DueLine) -> date | None:
        if line.plan_on is None:
            return None
        days = self.open_days.get(line.machine.depot_id, OpenDays())
        return days.do_by(line.plan_on)

    def render_title(self, record: DueLine) -> SafeString:
        return link_to("maintenance:due_line", record.pk, record.line.title)

    def render_plan_on(self, record: DueLine) -> str:
        day = self.day_to_do(record)
        if day is None:
            return gettext("by the meter alone")
        likely = "" if record.put_off_to or record.plan_on == record.due_on else ", likely"
        return format_html('<span class="nowrap">{}{}</span>', day_text(day), likely)

    def render_due_on(self, record: DueLine) -> str:
        return day_text(record.due_on) if record.due_on else gettext("by the meter alone")

    def render_machine(self, record: DueLine) -> SafeString:
        return machine_link(record.machine)

    def render_state(self, record: DueLine) -> SafeString:
        return mark(due_state_of(record, record.machine, self.on))

    def render_why(self, record: DueLine) -> str:
        return why(record)


class JobTable(tables.Table):
    """Jobs with how far they are, since when, and in whose hands."""

    number = tables.Column(accessor="pk", verbose_name=gettext_lazy("Job"), empty_values=())
    machine = tables.Column(
        accessor="machine__number",
        order_by="machine__number_key",
        verbose_name=gettext_lazy("Machine"),
        empty_values=(),
    )
    title = tables.Column(verbose_name=gettext_lazy("What"), empty_values=())
    kind = tables.Column(verbose_name=gettext_lazy("Kind of work"), empty_values=())
    state = tables.Column(verbose_name=gettext_lazy("How far it is"), empty_values=())
    opened_at = DayColumn(verbose_name=gettext_lazy("Since"), attrs=DAY)
    due_on = DayColumn(
        verbose_name=gettext_lazy("Due on"), default=gettext_lazy("no day"), attrs=DAY
    )
    given_to = tables.Column(
        accessor="given_to__name", verbose_name=gettext_lazy("With"), default=gettext_lazy("nobody")
    )

    noun, nouns = gettext_lazy("job"), gettext_lazy("jobs")

    class Meta:
        empty_text = gettext_lazy(
            "No job is like that. A fault reported, a wrong answer at a check, or work that comes "
            "due stands here by itself; others are opened on a machine's page."
        )
        order_by = "-number"

    def __init__(self, jobs: QuerySet[Job], *, on: date, **more: Any) -> None:
        super().__init__(jobs, **more)
        self.on = on

    def render_title(self, record: Job) -> str | SafeString:
        if record.back_again_of is None:
            return record.title
        address = address_of("maintenance:job", record.back_again_of.pk)
        return format_html(
            '{} <strong>back again</strong>, after <a href="{}">{}</a>',
            record.title, address, record.back_again_of.number,
        )  # fmt: skip

    def render_number(self, record: Job) -> SafeString:
        return link_to("maintenance:job", record.pk, record.number)

    def render_machine(self, record: Job) -> SafeString:
        return machine_link(record.machine)

    def render_kind(self, record: Job) -> str:
        kind = record.get_kind_display()
        return f"{kind}, safety" if record.is_safety else kind

    def render_state(self, record: Job) -> SafeString:
        shown = mark(record.state)
        if record.state == Job.State.WAITING:
            told = (
                gettext("for {waiting_for} since {since}").format(
                    waiting_for=gettext(record.waiting_for),
                    since=day_text(localdate(record.state_since)),
                )
                if record.state_since
                else gettext("for {waiting_for}").format(waiting_for=gettext(record.waiting_for))
            )
            if record.expected_on:
                told += gettext(", expected {expected_on}").format(
                    expected_on=day_text(record.expected_on)
                )
            late = ", late" if is_late(record, self.on) else ""
            return format_html("{} {}<strong>{}</strong>", shown, told, late)
        if record.countersign_wanted and record.state == Job.State.DONE:
            return format_html(gettext("{} to be countersigned"), shown)
        return shown


class LookTable(tables.Table):
    """Patterns in checks, one a person and kind of pattern, for a foreman's eyes alone."""

    person = tables.Column(verbose_name=gettext_lazy("Done by"))
    pattern = tables.Column(verbose_name=gettext_lazy("Pattern"))
    words = tables.Column(verbose_name=gettext_lazy("What was seen"), orderable=False)
    newest = tables.Column(
        accessor="newest__at", verbose_name=gettext_lazy("Newest"), order_by="newest__at", attrs=DAY
    )

    noun, nouns = gettext_lazy("pattern"), gettext_lazy("patterns")

    class Meta:
        empty_text = gettext_lazy(
            "Nothing stands out. Checks that were very quick, answered in one rhythm, done in one "
            "sitting or at sites far apart would stand here, with their figures."
        )
        order_by = "-newest"

    def render_newest(self, record: Look) -> SafeString:
        address = reverse("maintenance:record", args=[record.newest.key])
        day = f"{day_text(record.newest.at)}, {record.newest.at:%H:%M}"
        return format_html('<a href="{}">{}</a>', address, day)
