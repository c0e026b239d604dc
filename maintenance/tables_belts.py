"""The lists of belt work: drives with their verdicts, when belts run out, what is on the rack."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

import django_tables2 as tables
from django.db.models import QuerySet
from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.timezone import localtime
from django.utils.translation import gettext

from maintenance.contents.rack import PartStock, serves, stock_of
from maintenance.models import BeltLife, Job, Part
from maintenance.rules.rack import store_words
from maintenance.rules.words import day_text
from maintenance.tables import DAY, DayColumn
from plant.addresses import address_of, link_to
from plant.contents.workout import VERDICTS
from plant.drives.outcome import Verdict
from plant.lazy_text import gettext_lazy as _
from plant.length_words import length_text
from plant.models import Drive, User

NUMBER = {"td": {"class": "number"}}
MOST_SERVED = 6


class BeltTable(tables.Table):
    """Belt drives with the last verdict on each, worst first; each leads to its page."""

    machine = tables.Column(
        accessor="machine__number", order_by="machine__number_key", verbose_name=_("Machine")
    )
    name = tables.Column(verbose_name=_("Drive"), order_by=("name", "pk"))
    belt_mark = tables.Column(verbose_name=_("Belt"), default=_("mark not known"))
    verdict = tables.Column(
        verbose_name=_("Last verdict"), order_by=("rank", "machine__number_key"), empty_values=()
    )
    read_width_m = tables.Column(
        verbose_name=_("Width"), default=_("not measured"), attrs={"td": {"class": "number"}}
    )
    read_at = tables.DateTimeColumn(
        format="j M Y", verbose_name=_("Measured"), default=_("never"), attrs=DAY
    )

    noun, nouns = _("belt drive"), _("belt drives")
    CSV = ("Machine", "Kind", "Depot", "Drive", "Belt", "Last verdict", "Width (mm)", "Measured")

    class Meta:
        empty_text = _(
            "No belt drive is like that. A machine’s drive is entered on its page, under “Drive”."
        )
        order_by = "verdict"

    def csv_rows(self) -> Iterator[tuple[object, ...]]:
        """The same drives, all of them, for a spreadsheet."""
        for row in self.rows:
            each: Any = row.record
            machine = each.machine
            width = None if each.read_width_m is None else round(each.read_width_m * 1e3, 1)
            yield (
                machine.number, machine.kind.name, machine.depot.name, each.name, each.belt_mark,
                self.render_verdict(each), width, each.read_at,
            )  # fmt: skip

    def render_machine(self, record: Drive) -> SafeString:
        address = reverse("maintenance:drive", args=[record.pk])
        return format_html('<a href="{}">{}</a>', address, record.machine.number)

    def render_verdict(self, record: Any) -> str:
        return (
            gettext(VERDICTS[Verdict(record.verdict)][0])
            if record.verdict
            else gettext("Not measured yet.")
        )

    def render_read_width_m(self, value: float) -> str:
        return length_text(value)


class RunningOutTable(tables.Table):
    """Belts by the day on which to order the next, worst first; each leads to its drive."""

    machine = tables.Column(
        accessor="drive__machine__number", order_by="drive__machine__number_key",
        verbose_name=_("Machine"),
    )  # fmt: skip
    belt = tables.Column(accessor="drive__belt_mark", verbose_name=_("Belt"), empty_values=())
    state = tables.Column(
        verbose_name=_("How it stands"),
        order_by=("rank", "order_by_on", "drive"),
        empty_values=(),
    )
    order_by_on = DayColumn(verbose_name=_("Order by"), default=_("no day"), attrs=DAY)
    likely_on = DayColumn(verbose_name=_("Likely ends"), default=_("no day"), attrs=DAY)
    early_on = tables.Column(verbose_name=_("Early to late"), empty_values=(), orderable=False)
    order_job = tables.Column(verbose_name=_("Order"), orderable=False, empty_values=())

    noun, nouns = _("belt"), _("belts")
    CSV = (
        "Machine", "Kind", "Depot", "Drive", "Belt", "How it stands", "Ends by", "Order by",
        "Early", "Likely", "Late", "Estimated", "Days to get one", "Why", "Worked out",
    )  # fmt: skip

    class Meta:
        empty_text = _(
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
        return f"{drive.belt_mark or drive.section or gettext('mark not known')}, {drive.name}"

    def render_state(self, record: BeltLife) -> str:
        if record.state != BeltLife.State.DATED:
            return record.get_state_display()
        ends = str(record.get_ends_by_display())
        if record.is_estimate:
            return gettext("{ends}, by estimated hours").format(ends=ends)
        return ends

    def render_early_on(self, record: BeltLife) -> str:
        if record.early_on is None:
            return ""
        late = day_text(record.late_on) if record.late_on else gettext("no end")
        return gettext("{early_on} to {late}").format(early_on=day_text(record.early_on), late=late)

    def render_order_job(self, record: Any) -> str | SafeString:
        if record.order_job is None:
            return ""
        word = {"closed": gettext("ordered"), "called off": gettext("called off")}.get(
            record.order_state, gettext("to order")
        )
        number = Job(pk=record.order_job).number
        address = address_of("maintenance:job", record.order_job)
        return format_html('<a href="{}">{}</a> {}', address, number, word)


class RackTable(tables.Table):
    """Parts with what lies of each and where, read for the page that is shown."""

    name = tables.Column(verbose_name=_("Part"), order_by=("name", "pk"))
    depot = tables.Column(accessor="depot__name", verbose_name=_("Depot"))
    total = tables.Column(verbose_name=_("On hand"), attrs=NUMBER)
    where = tables.Column(verbose_name=_("Where"), orderable=False, empty_values=())
    lowest = tables.Column(
        verbose_name=_("At least"), orderable=False, empty_values=(), attrs=NUMBER
    )
    note = tables.Column(verbose_name=_("What to know"), orderable=False, empty_values=())
    serves = tables.Column(verbose_name=_("Serves"), orderable=False, empty_values=())

    noun, nouns = _("part"), _("parts")
    CSV = (
        "Part", "Other numbers", "Depot", "Section", "Length (mm)", "Place", "Pieces",
        "Counted at", "Counted by", "On hand", "At least", "Ordered", "Serves",
    )  # fmt: skip

    class Meta:
        empty_text = _(
            "No part is like that. Begin with “Add a part”; then say how many lie where by a count."
        )
        order_by = "name"

    def __init__(self, parts: QuerySet[Part], *, user: User, on: date, **more: Any) -> None:
        super().__init__(parts, **more)
        self.user, self.on = user, on

    def before_render(self, request: HttpRequest) -> None:
        self.read_ahead([row.record for row in self.page.object_list])

    def read_ahead(self, parts: Sequence[Part]) -> None:
        """Reads the stock of the parts that are shown, and the drives that they go on."""
        self.stock: dict[int, PartStock] = stock_of(parts, on=self.on)
        belts = [each for part in parts if (each := part.as_belt) is not None]
        self.drives = serves(self.user, belts)

    def csv_rows(self) -> Iterator[tuple[object, ...]]:
        """A line a part and place, all of them, for a spreadsheet."""
        parts = [row.record for row in self.rows]
        self.read_ahead(parts)
        for part in parts:
            stock = self.stock[part.pk]
            length = None if part.length_m is None else round(part.length_m * 1e3, 1)
            numbers = ", ".join(each.number for each in part.numbers.all())
            served = ", ".join(drive.machine.number for drive in self.served(part))
            for each in stock.places or (None,):
                yield (
                    part.name, numbers, part.depot.name, part.section, length,
                    each.place.name if each else "", each.count if each else 0,
                    each.counted_at if each else None, each.counted_by if each else "",
                    stock.total, stock.lowest.count, stock.ordered, served,
                )  # fmt: skip

    def served(self, part: Part) -> list[Drive]:
        belt = part.as_belt
        drives = self.drives.get(belt, []) if belt is not None else []
        return [drive for drive in drives if drive.machine.depot_id == part.depot_id]

    def render_name(self, record: Part) -> SafeString:
        address = reverse("maintenance:part", args=[record.pk])
        numbers = ", ".join(each.number for each in record.numbers.all())
        also = gettext(" also {numbers}").format(numbers=numbers) if numbers else ""
        return format_html('<a href="{}">{}</a>{}', address, record.name, also)

    def render_where(self, record: Part) -> str | SafeString:
        places = self.stock[record.pk].places
        if not places:
            return gettext("nowhere yet")
        told = (
            (
                f"{each.place}: {each.count}",
                gettext(", counted {counted_at}").format(
                    counted_at=day_text(localtime(each.counted_at))
                )
                if each.counted_at
                else "",
            )
            for each in places
        )
        return format_html_join("", "<p>{}{}</p>", told)

    def render_lowest(self, record: Part) -> int:
        return self.stock[record.pk].lowest.count

    def render_note(self, record: Part) -> str:
        stock, told = self.stock[record.pk], []
        if stock.total < 0:
            told.append(gettext("More were taken than are known: count it."))
        if record.withdrawn_at is not None:
            return gettext("Withdrawn, {day}.").format(day=day_text(localtime(record.withdrawn_at)))
        if stock.is_low:
            told.append(gettext("Too few."))
        told += [
            gettext("Too few in {place}: {count}.").format(place=each.place, count=each.count)
            for each in stock.low_places
        ]
        if stock.ordered and stock.ordered_for:
            told.append(
                gettext("{ordered} ordered, for {ordered_for}.").format(
                    ordered=stock.ordered, ordered_for=day_text(stock.ordered_for)
                )
            )
        if record.is_belt and (old := store_words(stock.oldest, on=self.on)):
            told.append(old)
        return " ".join(told) or "nothing"

    def render_serves(self, record: Part) -> str | SafeString:
        drives = self.served(record)
        if not drives:
            return gettext("no drive of this depot") if record.is_belt else gettext("not a belt")
        shown = format_html_join(
            ", ", '<a href="{}">{}</a>',
            (
                (reverse("maintenance:drive", args=[drive.pk]), drive.machine.number)
                for drive in drives[:MOST_SERVED]
            ),
        )  # fmt: skip
        more = len(drives) - MOST_SERVED
        return format_html(gettext("{} and {} more"), shown, more) if more > 0 else shown
