"""Fills a tag: why the machine must not be used, since when, by whom, and with which job."""

from collections.abc import Iterable, Iterator
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.contents.fitness import as_rule, wants_of
from maintenance.contents.record import who
from maintenance.contents.record_answers import measured
from maintenance.models import ElectricalTest, Stop
from maintenance.rules import fitness as rule
from maintenance.rules.words import moment_text
from plant.models import Machine, Record, Supply
from reports.contents.plate import link_of
from reports.pdf.page import Printed
from reports.pdf.service_sheet import Caution
from reports.pdf.tag import Reason, Tag

NOT_STOPPED = gettext_noop("{} is not stopped now, so it gets no tag. Nothing was asked for.")
PASSED = gettext_noop("This test was passed, so it gets no tag. Nothing was asked for.")
FREED = gettext_noop(
    "{} was freed since this test failed, so it gets no tag. Nothing was asked for."
)
_ELECTRIC = (Supply.E230, Supply.E110, Supply.E400)
_ENGINES = (Supply.PETROL, Supply.DIESEL, Supply.GAS)


def no_stop_tag(machine: Machine, *, at: datetime) -> str:
    """Why the machine gets no tag; empty while something stops it."""
    return "" if _standing(machine, at) else _(NOT_STOPPED).format(machine.number)


def no_fail_tag(record: Record) -> str:
    """Why a test gets no tag; empty while its failure stops the machine."""
    if ElectricalTest.objects.filter(record=record, passed=True).exists():
        return _(PASSED)
    if Stop.objects.standing().filter(record=record).exists():
        return ""
    return _(FREED).format(record.machine.number if record.machine else _("The machine"))


def stop_tag(machine: Machine, *, at: datetime, by: str) -> Tag:
    """The tag of a stopped machine; its depot and kind must be read already."""
    stops = _standing(machine, at)
    return _tag(machine, stops, at=at, by=by, what=_("Stopped"), facts=())


def fail_tag(record: Record, machine: Machine, *, at: datetime, by: str) -> Tag:
    """The tag of a failed electrical test, with the readings that failed it."""
    test = ElectricalTest.objects.get(record=record)
    stops = [stop for stop in _standing(machine, at) if stop.record_id == record.pk]
    return _tag(
        machine, stops, at=at, by=by, what=_("Failed electrical test"),
        facts=tuple(_failed(record, test)),
    )  # fmt: skip


def _tag(
    machine: Machine,
    stops: Iterable[Stop],
    *,
    at: datetime,
    by: str,
    what: str,
    facts: tuple[str, ...],
) -> Tag:
    return Tag(
        number=machine.number,
        kind=f"{machine.kind.name}, {machine.depot.name}",
        printed=Printed(at=_local(machine, at), by=by),
        what=what,
        reasons=tuple(_reason(machine, stop) for stop in stops),
        facts=facts,
        cautions=tuple(_cautions(machine)),
        link=link_of(machine),
        scan=_("Scan it to see how {machine} stands.").format(machine=machine.number),
        phone=_("Depot: {phone}").format(phone=machine.depot.phone) if machine.depot.phone else "",
    )


def _standing(machine: Machine, at: datetime) -> list[Stop]:
    """What stops it now: also a note to carry on whose last day is past."""
    on = machine.depot.day_of(at)
    stops = (
        Stop.objects.standing()
        .filter(machine=machine)
        .select_related("job", "record__by", "record__depot")
        .prefetch_related("record__texts")
        .order_by("since", "pk")
    )
    return [
        stop
        for stop in stops
        if rule.may_be_used(stops=[as_rule(stop)], wants=wants_of(machine), on=on).mark
        == rule.DO_NOT_USE
    ]


def _reason(machine: Machine, stop: Stop) -> Reason:
    told = [
        _("Since {machine}, by {record}.").format(
            machine=_local(machine, stop.since), record=who(stop.record)
        )
    ]
    if stop.job:
        told.append(_("Job {job}.").format(job=stop.job.number))
    told.append(_("Record {record}.").format(record=stop.record.number))
    return Reason(f"{stop.words.rstrip('.')}.", " ".join(told))


def _failed(record: Record, test: ElectricalTest) -> Iterator[str]:
    yield _("Tested: {what}.").format(what=test.what)
    for each in measured(record):
        if each.passed is False:
            yield _("{what}: {reading}. Limit: {limit}.").format(
                what=each.what, reading=each.reading, limit=each.limit
            )
    named = test.instrument or _("none of the register")
    yield _("Instrument: {instrument}.").format(instrument=named)
    yield _("A new test of the same must pass before the release check.")


def _cautions(machine: Machine) -> Iterator[Caution]:
    """Common practice, no source; hazard, harm, act, in 15 words at most."""
    if machine.supply in _ELECTRIC:
        yield Caution("Stop", _("Live parts can kill. Unplug it, lock it off, keep the key."))
    elif machine.supply in _ENGINES:
        yield Caution("Stop", _("It can start by itself. Shut the fuel off, take the key out."))
    else:
        yield Caution("Stop", _("Stored energy can hurt. Cut it off, lock it off, let it out."))
    yield Caution(
        "Note", _("Repair is for a competent person. Guards back before anybody starts it.")
    )


def _local(machine: Machine, at: datetime) -> str:
    return moment_text(at.astimezone(machine.depot.zone))
