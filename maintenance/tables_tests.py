"""The lists of electrical tests: machines, instruments, files of readings."""

from datetime import date, datetime
from typing import Any

import django_tables2 as tables
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.timezone import localtime
from django.utils.translation import gettext

from maintenance.models import Instrument, ReadingsRow
from maintenance.rules.electrical import NO_TRIP
from maintenance.rules.words import day_text
from maintenance.tables import DAY, DayColumn, machine_link
from plant.addresses import link_to
from plant.lazy_text import gettext_lazy
from plant.models import Machine
from plant.tables import ImportTable


class ElectricalTable(tables.Table):
    """Machines that are tested: the last test, what came of it, and the day of the next."""

    number = tables.Column(verbose_name=gettext_lazy("Machine"), order_by="number_key")
    kind = tables.Column(accessor="kind__name", verbose_name=gettext_lazy("Kind"))
    depot = tables.Column(accessor="depot__name", verbose_name=gettext_lazy("Depot"))
    last_title = tables.Column(
        verbose_name=gettext_lazy("Last test"), default=gettext_lazy("not tested yet")
    )
    last_at = DayColumn(verbose_name=gettext_lazy("On"), default=gettext_lazy("never"), attrs=DAY)
    result = tables.Column(verbose_name=gettext_lazy("Result"), orderable=False, empty_values=())
    test_due_on = DayColumn(
        verbose_name=gettext_lazy("Next test due"), default=gettext_lazy("by no plan"), attrs=DAY
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
        return machine_link(record)

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
        day = day_text(record.test_due_on)
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
        return day_text(until) if until else gettext("not calibrated")

    def render_state(self, record: Instrument) -> str:
        if record.withdrawn_by_id is not None:
            return gettext("Withdrawn")
        return record.refusal(self.on) or gettext("Its readings count")


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
        return machine_link(record.machine) if record.machine else number

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
