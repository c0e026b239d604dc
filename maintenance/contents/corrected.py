"""What was put right since a record was sealed: as it was told first, and as it stands now."""

import json
from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext as _

from maintenance.contents.put_right import following, told_fully
from maintenance.contents.record import summary, who
from maintenance.models import Calibration, Check, ElectricalTest
from maintenance.rules.words import iso_text, moment_text
from plant.models import Record


@dataclass(frozen=True)
class Corrected:
    """One correction: what, as it was, as it is now, who said so, why; and its sealed record."""

    what: str
    was: str
    now: str
    who: str
    why: str
    record: Record


def corrections_of(record: Record) -> list[Corrected]:
    """Everything that speaks against the record as it was told, oldest first.

    That is each correction of it, and of that correction; the calibration of its instrument that
    was struck out; and the meter figure of a check that was questioned and accepted.
    """
    found = [_told(each) for each in following(record)]
    found += _of_its_calibration(record)
    found += _of_its_figure(record)
    return sorted(found, key=lambda each: (each.record.happened_at, each.record.seq))


def _told(record: Record) -> Corrected:
    data = json.loads(record.content)["data"]
    if "reading_of" in data:
        label = str(Record.Kind(data["reading_of"]).label)
        return _corrected(record, label, data["was"], data["now"])
    if "was_fitted" in data:
        now = (
            _("it is {mark}").format(mark=data["mark"])
            if data["was_fitted"]
            else _("no belt was fitted")
        )
        return _corrected(record, _("Belt fitted"), data["was_mark"], now)
    if "was_done_on" in data:
        now = (
            _("done on {done_on}").format(done_on=iso_text(data["done_on"]))
            if data["done_on"]
            else _("not done")
        )
        return _corrected(
            record,
            data["title"],
            _("done on {was_done_on}").format(was_done_on=iso_text(data["was_done_on"])),
            now,
        )
    if data.get("struck_out") == "calibration":
        was = _("done on {done_on}").format(done_on=iso_text(data["done_on"]))
        return _corrected(
            record,
            _("Calibration of {instrument}").format(instrument=data["instrument"]),
            was,
            _("struck out"),
        )
    return _corrected(record, str(record.get_kind_display()), _("as it was told"), summary(record))


def _of_its_calibration(record: Record) -> list[Corrected]:
    test = ElectricalTest.objects.filter(record=record).first()
    if test is None or test.made_with_id is None:
        return []
    on = record.depot.day_of(test.at)
    # The one it stood on: the last that was known and not struck out when the test was sealed.
    stood_on = (
        Calibration.objects.filter(
            Q(struck_by__isnull=True) | Q(struck_by__received_at__gt=record.received_at),
            instrument=test.made_with_id, done_on__lte=on,
            record__received_at__lte=record.received_at,
        )
        .order_by("-done_on", "-pk")
        .first()
    )  # fmt: skip
    if stood_on is None or stood_on.struck_by_id is None:
        return []
    return [_told(each) for each in told_fully().filter(pk=stood_on.struck_by_id)]


def _of_its_figure(record: Record) -> list[Corrected]:
    check = Check.objects.filter(record=record).select_related("reading__record").first()
    if check is None or check.reading is None:
        return []
    sealed = json.loads(check.reading.record.content)["data"]
    if not sealed.get("questioned"):
        return []
    accepted = told_fully().filter(
        machine=record.machine_id,
        kind=Record.Kind.DECISION,
        content__contains=f'"figure":"{check.reading.record_id}"',
    )
    return [
        _corrected(
            each,
            _("Meter figure {typed}").format(typed=sealed["dial"]["typed"]),
            f"questioned: {sealed['questioned']}",
            _("the figure counts"),
        )
        for each in accepted
    ]


def _corrected(record: Record, what: str, was: str, now: str) -> Corrected:
    local = record.happened_at.astimezone(record.depot.zone)
    role = f", {record.role}" if record.role else ""
    reason = next((t for t in record.texts.all() if t.name == "reason"), None)
    why = _("no reason told") if reason is None else reason.text or _("words erased")
    said = f"{who(record)}{role}, {moment_text(local)}"
    return Corrected(what, was, now, said, why, record)
