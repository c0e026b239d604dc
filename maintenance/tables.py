"""The lists of maintenance: machines, due work, jobs."""

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
from django.utils.timezone import localdate, localtime
from django.utils.translation import gettext, ngettext

from maintenance.contents.belt_life import BeltWork
from maintenance.contents.due import listed, why, with_depots
from maintenance.contents.fitness import due_state_of, due_state_of_many, fitness_of_many
from maintenance.contents.held import told
from maintenance.contents.job import is_late
from maintenance.contents.open_days import OpenDays
from maintenance.models import BeltLife, DueLine, Instrument, Job, ReadingsRow, Stay, Stop, Transfer
from maintenance.rules.electrical import NO_TRIP
from maintenance.rules.tick_through import Look
from maintenance.rules.words import day_text
from plant.addresses import address_of, link_to
from plant.http import UserRequest
from plant.lazy_text import gettext_lazy
from plant.models import Machine, User
from plant.rights import Right, may
from plant.tables import ImportTable
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


def _machine_link(machine: Machine) -> SafeString:
    return link_to("maintenance:machine", machine.pk, machine.number)


class MachineTable(tables.Table):
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

    def render_number(self, record: Machine) -> SafeString:
        return _machine_link(record)

    def render_kind(self, record: Machine) -> str:
        return f"{record.kind.name}, {record.nickname}" if record.nickname else record.kind.name

    def render_place(self, record: Machine) -> SafeString:
        where = mark(record.place)
        return format_html("{} {}", where, record.site) if record.site else where

    def render_fitness(self, record: Machine) -> SafeString:
        return mark(self.fitness_of[record.pk].mark)

    def render_due(self, record: Machine) -> SafeString:
        return mark(self.due_of[record.pk])


class HeldTable(tables.Table):
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

    def render_number(self, record: Machine) -> SafeString:
        return _machine_link(record)

    def render_kind(self, record: Machine) -> str:
        return f"{record.kind.name}, {record.nickname}" if record.nickname else record.kind.name

    def render_place(self, record: Machine) -> SafeString:
        where = mark(record.place)
        return format_html("{} {}", where, record.site) if record.site else where

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
        stands = "overdue" if belt.is_late else "due" if day else gettext("by the meter alone")
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
        return _machine_link(record.machine)

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
    due_on = DayColumn(verbose_name=gettext_lazy("Due on"), default="no day", attrs=DAY)
    given_to = tables.Column(
        accessor="given_to__name", verbose_name=gettext_lazy("With"), default="nobody"
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
        return _machine_link(record.machine)

    def render_kind(self, record: Job) -> str:
        kind = record.get_kind_display()
        return f"{kind}, safety" if record.is_safety else kind

    def render_state(self, record: Job) -> SafeString:
        shown = mark(record.state)
        if record.state == Job.State.WAITING:
            told = gettext("for {waiting_for}").format(waiting_for=record.waiting_for)
            if record.state_since:
                told += gettext(" since {state_since}").format(
                    state_since=f"{localdate(record.state_since):%-d %b %Y}"
                )
            if record.expected_on:
                told += gettext(", expected {expected_on}").format(
                    expected_on=f"{record.expected_on:%-d %b %Y}"
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
        day = f"{record.newest.at:%-d %b %Y, %H:%M}"
        return format_html('<a href="{}">{}</a>', address, day)


class ElectricalTable(tables.Table):
    """Machines that are tested: the last test, what came of it, and the day of the next."""

    number = tables.Column(verbose_name=gettext_lazy("Machine"), order_by="number_key")
    kind = tables.Column(accessor="kind__name", verbose_name=gettext_lazy("Kind"))
    depot = tables.Column(accessor="depot__name", verbose_name=gettext_lazy("Depot"))
    last_title = tables.Column(verbose_name=gettext_lazy("Last test"), default="not tested yet")
    last_at = DayColumn(verbose_name=gettext_lazy("On"), default="never", attrs=DAY)
    result = tables.Column(verbose_name=gettext_lazy("Result"), orderable=False, empty_values=())
    test_due_on = DayColumn(
        verbose_name=gettext_lazy("Next test due"), default="by no plan", attrs=DAY
    )

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy(
            "No machine is like that. Begin with “Test” on the page of a machine; machines that "
            "a test falls due on stand here by themselves."
        )
        order_by = "test_due_on"

    def __init__(self, machines: QuerySet[Machine], *, on: date, **more: Any) -> None:
        super().__init__(machines, **more)
        self.on = on

    def render_number(self, record: Machine) -> SafeString:
        return _machine_link(record)

    def render_last_title(self, record: Any) -> str:
        serial = (
            gettext(", serial {last_serial}").format(last_serial=record.last_serial)
            if record.last_serial
            else ""
        )
        return f"{record.last_title}{serial}"

    def render_result(self, record: Any) -> str | SafeString:
        if record.last_at is None:
            return "none"
        told = gettext("Passed") if record.last_passed else gettext("Failed")
        if record.last_doubted is not None:
            told = gettext("{told}; a test is in doubt, test again").format(told=told)
        return link_to("maintenance:machine_tests", record.pk, told)

    def render_test_due_on(self, record: Any) -> str:
        if record.test_due_on is None:
            return gettext("by no plan")
        day = f"{record.test_due_on:%-d %b %Y}"
        return f"{day}, past" if record.test_due_on < self.on else day


class InstrumentTable(tables.Table):
    """The test instruments of the person's depots, and whether their readings count."""

    name = tables.Column(verbose_name=gettext_lazy("Instrument"))
    serial = tables.Column(verbose_name=gettext_lazy("Serial"))
    depot = tables.Column(accessor="depot__name", verbose_name=gettext_lazy("Depot"))
    reads = tables.Column(
        accessor="reads_words", verbose_name=gettext_lazy("Reads"), orderable=False
    )
    until = tables.Column(
        verbose_name=gettext_lazy("Calibrated until"), orderable=False, empty_values=()
    )
    state = tables.Column(
        verbose_name=gettext_lazy("How it stands"), orderable=False, empty_values=()
    )

    noun, nouns = gettext_lazy("instrument"), gettext_lazy("instruments")

    class Meta:
        empty_text = gettext_lazy(
            "No instrument is entered yet. Without one nothing passes. A foreman adds it."
        )
        order_by = "name"

    def __init__(self, instruments: QuerySet[Instrument], *, on: date, **more: Any) -> None:
        super().__init__(instruments, **more)
        self.on = on

    def render_name(self, record: Instrument) -> SafeString:
        return link_to("maintenance:instrument", record.pk, record.name)

    def render_until(self, record: Instrument) -> str:
        until = record.valid_until(self.on)
        return f"{until:%-d %b %Y}" if until else gettext("not calibrated")

    def render_state(self, record: Instrument) -> str:
        if record.withdrawn_by_id is not None:
            return gettext("Withdrawn")
        return record.refusal(self.on) or gettext("Its readings count")


class StayTable(tables.Table):
    """What is out: with whom, where, and until when."""

    machine = tables.Column(
        accessor="machine__number",
        order_by="machine__number_key",
        verbose_name=gettext_lazy("Machine"),
    )
    kind = tables.Column(accessor="machine__kind__name", verbose_name=gettext_lazy("Kind"))
    hirer = tables.Column(
        accessor="hirer__name", verbose_name=gettext_lazy("With"), default="our own site"
    )
    site = tables.Column(verbose_name=gettext_lazy("Site"))
    site_phone = tables.Column(
        verbose_name=gettext_lazy("Site phone"), default="not told", orderable=False, attrs=DAY
    )
    due_back_on = DayColumn(verbose_name=gettext_lazy("Due back"), attrs=DAY)
    fitness = tables.Column(
        verbose_name=gettext_lazy("May it be used"), orderable=False, empty_values=()
    )
    due = tables.Column(verbose_name=gettext_lazy("What is due"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy(
            "Nothing stands here. A machine that is issued stands here until it is back."
        )
        order_by = "due_back_on"

    def __init__(self, stays: QuerySet[Stay], *, on: date, **more: Any) -> None:
        super().__init__(stays, **more)
        self.on = on

    def before_render(self, request: HttpRequest) -> None:
        shown = [row.record.machine for row in self.page.object_list]
        self.fitness_of = fitness_of_many(shown, self.on)
        self.due_of = due_state_of_many(shown, self.on)

    def render_machine(self, record: Stay) -> SafeString:
        return _machine_link(record.machine)

    def render_due_back_on(self, record: Stay) -> str:
        late = (self.on - record.due_back_on).days
        day = f"{record.due_back_on:%-d %b %Y}"
        if late <= 0:
            return day
        return ngettext("{day}, {late} day late", "{day}, {late} days late", late).format(
            day=day, late=late
        )

    def render_fitness(self, record: Stay) -> SafeString:
        return mark(self.fitness_of[record.machine_id].mark)

    def render_due(self, record: Stay) -> SafeString:
        return mark(self.due_of[record.machine_id])


class OutTable(tables.Table):
    """Machines that are out with no word of who has them."""

    number = tables.Column(verbose_name=gettext_lazy("Machine"), order_by="number_key")
    kind = tables.Column(accessor="kind__name", verbose_name=gettext_lazy("Kind"))
    site = tables.Column(verbose_name=gettext_lazy("Site"), default="not told")
    tell = tables.Column(verbose_name=gettext_lazy("What to do"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy("Of every machine that is out it is known who has it.")
        order_by = "number"

    def render_number(self, record: Machine) -> SafeString:
        return _machine_link(record)

    def render_tell(self, record: Machine) -> SafeString:
        address = address_of("maintenance:tell_stay", record.pk)
        return format_html('<a href="{}">Say who has {}</a>', address, record.number)


class TransferTable(tables.Table):
    """What is on the way between depots, with what stands open on it."""

    machine = tables.Column(
        accessor="machine__number",
        order_by="machine__number_key",
        verbose_name=gettext_lazy("Machine"),
    )
    kind = tables.Column(accessor="machine__kind__name", verbose_name=gettext_lazy("Kind"))
    from_depot = tables.Column(accessor="from_depot__name", verbose_name=gettext_lazy("From"))
    to_depot = tables.Column(accessor="to_depot__name", verbose_name=gettext_lazy("To"))
    sent_at = DayColumn(verbose_name=gettext_lazy("Sent"), attrs=DAY)
    stands = tables.Column(
        verbose_name=gettext_lazy("Goes with it"), orderable=False, empty_values=()
    )
    act = tables.Column(verbose_name=gettext_lazy("What to do"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy("Nothing is on the way. Begin with “Move” on a machine's page.")
        order_by = "sent_at"

    def __init__(self, transfers: QuerySet[Transfer], *, user: User, **more: Any) -> None:
        super().__init__(transfers, **more)
        self.user = user

    def render_machine(self, record: Transfer) -> str | SafeString:
        if may(self.user, Right.SEE, record.machine.depot_id):
            return _machine_link(record.machine)
        return record.machine.number

    def render_stands(self, record: Transfer) -> str:
        told: Any = record
        stops, jobs = told.stop_count or 0, told.job_count or 0
        faults = ngettext("{count} fault", "{count} faults", stops).format(count=stops)
        work = ngettext("{count} job", "{count} jobs", jobs).format(count=jobs)
        return gettext("{faults}, {jobs}").format(faults=faults, jobs=work)

    def render_act(self, record: Transfer) -> SafeString:
        name, word = ("turn_back", gettext("Take in again"))
        if may(self.user, Right.MOVE, record.to_depot_id):
            name, word = ("receive", gettext("Receive"))
        address = address_of(f"maintenance:{name}", record.pk)
        return format_html('<a href="{}">{} {}</a>', address, word, record.machine.number)


class MissingTable(tables.Table):
    """Machines that are not where they should be: since when, and who said so."""

    number = tables.Column(verbose_name=gettext_lazy("Machine"), order_by="number_key")
    kind = tables.Column(accessor="kind__name", verbose_name=gettext_lazy("Kind"))
    depot = tables.Column(accessor="depot__name", verbose_name=gettext_lazy("Depot"))
    site = tables.Column(verbose_name=gettext_lazy("Last known at"), default="not told")
    since = DayColumn(verbose_name=gettext_lazy("Since"), default="not told", attrs=DAY)
    told_by = tables.Column(verbose_name=gettext_lazy("Told by"), default="not told")
    told = tables.Column(verbose_name=gettext_lazy("What is known"), default="nothing")

    noun, nouns = gettext_lazy("machine"), gettext_lazy("machines")

    class Meta:
        empty_text = gettext_lazy(
            "Nothing is missing. Anybody signed in can say so, by “Move” on its page."
        )
        order_by = "-since"

    def render_number(self, record: Machine) -> SafeString:
        return _machine_link(record)


class RunningOutTable(tables.Table):
    """Belts by the day on which to order the next, worst first; each leads to its drive."""

    machine = tables.Column(
        accessor="drive__machine__number", order_by="drive__machine__number_key",
        verbose_name=gettext_lazy("Machine"),
    )  # fmt: skip
    belt = tables.Column(
        accessor="drive__belt_mark", verbose_name=gettext_lazy("Belt"), empty_values=()
    )
    state = tables.Column(
        verbose_name=gettext_lazy("How it stands"),
        order_by=("rank", "order_by_on", "drive"),
        empty_values=(),
    )
    order_by_on = DayColumn(verbose_name=gettext_lazy("Order by"), default="no day", attrs=DAY)
    likely_on = DayColumn(verbose_name=gettext_lazy("Likely ends"), default="no day", attrs=DAY)
    early_on = tables.Column(
        verbose_name=gettext_lazy("Early to late"), empty_values=(), orderable=False
    )
    order_job = tables.Column(verbose_name=gettext_lazy("Order"), orderable=False, empty_values=())

    noun, nouns = gettext_lazy("belt"), gettext_lazy("belts")
    CSV = (
        "Machine", "Kind", "Depot", "Drive", "Belt", "How it stands", "Ends by", "Order by",
        "Early", "Likely", "Late", "Estimated", "Days to get one", "Why", "Worked out",
    )  # fmt: skip

    class Meta:
        empty_text = gettext_lazy(
            "No belt is like that. Each belt drive stands here once it is entered; three widths of "
            "one belt give it a day."
        )
        order_by = "state"

    def csv_rows(self) -> Iterator[tuple[object, ...]]:
        """The same belts, all of them, for a spreadsheet."""
        for row in self.rows:
            each: Any = row.record
            drive = each.drive
            machine = drive.machine
            yield (
                machine.number, machine.kind.name, machine.depot.name, drive.name, drive.belt_mark,
                each.get_state_display(), each.get_ends_by_display(), each.order_by_on,
                each.early_on, each.likely_on, each.late_on, each.is_estimate, each.lead_days,
                each.why, each.worked_out_at,
            )  # fmt: skip

    def render_machine(self, record: BeltLife) -> SafeString:
        return link_to("maintenance:drive", record.drive_id, record.drive.machine.number)

    def render_belt(self, record: BeltLife) -> str:
        drive = record.drive
        return f"{drive.belt_mark or drive.section or 'mark not known'}, {drive.name}"

    def render_state(self, record: BeltLife) -> str:
        if record.state != BeltLife.State.DATED:
            return record.get_state_display()
        estimated = gettext(", by estimated hours") if record.is_estimate else ""
        return f"{record.get_ends_by_display()}{estimated}"

    def render_early_on(self, record: BeltLife) -> str:
        if record.early_on is None:
            return ""
        late = day_text(record.late_on) if record.late_on else gettext("no end")
        return gettext("{early_on} to {late}").format(early_on=day_text(record.early_on), late=late)

    def render_order_job(self, record: Any) -> str | SafeString:
        if record.order_job is None:
            return ""
        word = {"closed": "ordered", "called off": gettext("called off")}.get(
            record.order_state, "to order"
        )
        number = Job(pk=record.order_job).number
        address = address_of("maintenance:job", record.order_job)
        return format_html('<a href="{}">{}</a> {}', address, number, word)


class ReadingsFileTable(ImportTable):
    """The files of test instruments that were brought, newest first."""

    opens = "maintenance:readings_file"

    class Meta:
        empty_text = gettext_lazy(
            "No file was brought in yet. Here stands each file of an instrument with what became "
            "of its rows. Begin with “Bring in a file”."
        )
        order_by = "-asked_at"


class ReadingsRowTable(tables.Table):
    """Rows of one file of readings: what is made of each, and why."""

    number = tables.Column(verbose_name=gettext_lazy("Machine"), empty_values=())
    row = tables.Column(verbose_name=gettext_lazy("Row"), attrs={"td": {"class": "number"}})
    test = tables.Column(verbose_name=gettext_lazy("Test"), orderable=False, empty_values=())
    verdict = tables.Column(verbose_name=gettext_lazy("Sorted as"))
    passes = tables.Column(verbose_name=gettext_lazy("Worked out"), empty_values=())
    reasons = tables.Column(verbose_name=gettext_lazy("Why"), orderable=False, empty_values=())
    readings = tables.Column(
        verbose_name=gettext_lazy("Readings"), orderable=False, empty_values=()
    )

    noun, nouns = gettext_lazy("row"), gettext_lazy("rows")

    class Meta:
        empty_text = gettext_lazy("No row is like that. Choose another count above.")
        order_by = "row"

    def render_number(self, record: ReadingsRow) -> str | SafeString:
        number = record.number or gettext("no number")
        return _machine_link(record.machine) if record.machine else number

    def render_test(self, record: ReadingsRow) -> str | SafeString:
        title = record.values.get("title")
        if not title:
            return record.values["typed"].get("item", "") or gettext("not known")
        serial = record.values["item_serial"]
        told = (
            gettext("{title}, serial {serial}").format(title=title, serial=serial)
            if serial
            else str(title)
        )
        if record.test is not None:
            address = reverse("maintenance:record", args=[record.test.record_id])
            told = format_html('<a href="{}">{}</a>', address, told)
        at = localtime(datetime.fromisoformat(record.values["at"]))
        when = f"{at:%H:%M}" if record.values["timed"] else gettext("hour estimated: noon")
        return format_html("{}<br>{}, {}", told, day_text(at.date()), when)

    def render_verdict(self, record: ReadingsRow) -> str:
        return gettext("Saved") if record.test else str(record.get_verdict_display())

    def render_passes(self, record: ReadingsRow) -> str | SafeString:
        if record.passes is None:
            return gettext("not known")
        ours = gettext("Passes") if record.passes else gettext("Fails")
        if not record.differs:
            return ours
        return format_html(
            "<strong>{}</strong>; the instrument said {}", ours, record.values["said"]
        )

    def render_reasons(self, record: ReadingsRow) -> SafeString:
        return format_html_join("", "<p>{}</p>", ((reason,) for reason in record.reasons))

    def render_readings(self, record: ReadingsRow) -> SafeString:
        figures = [
            typed for typed, _, _ in record.values.get("readings", {}).values()
            if any(one.isdigit() for one in typed) or typed == NO_TRIP
        ]  # fmt: skip
        return format_html_join(", ", '<span class="nowrap">{}</span>', ((one,) for one in figures))
