"""Gathers the paper of one sealed record: what was found, by whom, what was done, what is next."""

import json
from base64 import b64encode
from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any, Literal
from urllib.parse import urlencode

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext, gettext_noop

from maintenance.contents.corrected import corrections_of
from maintenance.contents.fitness import fitness_of
from maintenance.contents.inspection import look_over_due
from maintenance.contents.meter import read_at_check
from maintenance.contents.record import LATE_NEWS, OF_BELTS, heading, summary, who
from maintenance.contents.record_answers import Answered, answers, measured, other_photos
from maintenance.contents.record_facts import WORKED_OUT, facts, signed_name, signed_with, words
from maintenance.contents.test import doubt
from maintenance.models import Check, ElectricalTest, Inspection, Job, Move, Stay, Stop
from maintenance.rules.check import NOT_PASSED, PASSED, STOP, TO_DECIDE
from maintenance.rules.fitness import DO_NOT_USE
from maintenance.rules.words import day_text, iso_text, moment_text
from plant import photos
from plant.contents.chain import check_record
from plant.models import Machine, Place, Record, RecordPhoto
from reports.contents.passport import coming_of
from reports.contents.plate import plate_of
from reports.pdf.page import Printed
from reports.pdf.plate import PlateField
from reports.pdf.record import Corrected, Due, FaultFound, Item, Measured, Photo, RecordPaper
from reports.pdf.service_sheet import Caution

Weight = Literal["stop", "care", "plain"]
MOST_DUE = 6
_ANSWERS = {"ok": "OK"}


def record_paper(
    record: Record,
    machine: Machine,
    *,
    at: datetime,
    by: str,
    seen: Collection[int] | None = None,
) -> RecordPaper:
    """The paper of one record as it was sealed, with what became of it up to this moment.

    Args:
        machine: that of the record; its depot and kind must be read already.
        seen: the depots whose words the reader may see beside the record; None: all.
        at: the moment of gathering; times are printed in the zone of the record's depot.
        by: the name of who asked for it.
    """
    data = json.loads(record.content)["data"]
    test = (
        ElectricalTest.objects.filter(record=record)
        .select_related("doubted_by__instrument", "record__depot")
        .first()
    )
    mark = fitness_of(machine, machine.depot.day_of(at)).mark
    weight, answer = _outcome(record, data, test)
    if mark == DO_NOT_USE and weight != "stop":
        # Nothing on this page reads as fit of a machine that is stopped by now.
        weight, answer = (
            "stop",
            gettext("{answer}. Stopped by now: DO NOT USE").format(answer=answer),
        )
    asked = answers(record)
    pictures = numbered_photos(record, asked)
    fault, told = check_record(record), answer
    if fault:
        weight = "stop"
        answer = gettext("This record is NOT as it was sealed: {fault}").format(fault=fault)
    doubted = doubt(test) if test is not None and test.passed else ""
    local = moment_text(at.astimezone(machine.depot.zone))
    because = (
        gettext("It says: {told}.").format(told=told) if fault else "",
        doubted,
        gettext("How the machine stood at the printing, {local}: {mark}.").format(
            local=local, mark=mark
        ),
    )
    plate = plate_of(machine)
    number_and_hash = {"number": record.number, "digits": record.hash[:16]}
    sealed_at = settings.SITE_ADDRESS + reverse("reports:sealed")
    coming = tuple(_coming(machine, at))
    return RecordPaper(
        title=_title(record, data),
        number=record.number,
        plate=replace(
            plate, power="", speed="", mass="", meter="", depot=record.depot.name,
            more=tuple(_when_and_where(record, machine)),
        ),
        printed=Printed(at=local, by=by),
        weight=weight,
        answer=answer,
        because=tuple(filter(None, because)),
        cautions=tuple(_cautions(weight, test)),
        items=tuple(_item(each, pictures) for each in asked),
        photos=tuple(small_photo(record, photo, *told) for photo, *told in pictures.values()),
        bench=tuple(_bench(test, data)) if test else tuple(_last_test(record, machine)),
        measured=tuple(
            Measured(each.what, each.reading, each.limit, each.origin, each.result)
            for each in measured(record)
        ),
        facts=tuple(_facts(record, data)),
        words=tuple(PlateField(*each) for each in words(record) if each[1]),
        faults=tuple(_faults(record, data)),
        no_faults=_no_faults(record),
        signed=tuple(_signed(record, data)),
        coming=coming,
        nothing_coming="" if coming else _nothing_coming(machine),
        corrections=tuple(
            Corrected(each.what, each.was, each.now, each.who, each.why, each.record.number)
            if seen is None or each.record.depot_id in seen
            else _of_another_depot()
            for each in corrections_of(record)
        ),
        hash=record.hash,
        sealed_at=sealed_at,
        link=f"{sealed_at}?{urlencode(number_and_hash)}",
    )  # fmt: skip


def _of_another_depot() -> Corrected:
    """Said of a correction whose words the reader may not see."""
    there = gettext("told in another depot")
    return Corrected("A correction", gettext("stands above"), there, there, there, "")


def _title(record: Record, data: dict[str, Any]) -> str:
    if record.kind == Record.Kind.CHECK:
        return gettext("Pre-use check")
    if record.kind == Record.Kind.INSPECTION:
        return str(Inspection.Kind(data["list"]).label)
    return heading(record)


_OUTCOMES: dict[str, tuple[Weight, str]] = {
    PASSED: ("plain", gettext_noop("Passed")),
    NOT_PASSED: ("care", gettext_noop("Could not be passed")),
    TO_DECIDE: ("stop", gettext_noop("Do not use until a foreman decides")),
    STOP: ("stop", gettext_noop("Stopped the machine: DO NOT USE")),
}


def _outcome(
    record: Record, data: dict[str, Any], test: ElectricalTest | None
) -> tuple[Weight, str]:
    if test is not None:
        if not test.passed:
            return "stop", gettext("Failed: {what}").format(what=test.what)
        if test.doubted_by_id:
            return "care", gettext("Passed, in doubt since: {what}").format(what=test.what)
        return "plain", gettext("Passed: {what}").format(what=test.what)
    if record.kind == Record.Kind.RELEASE:
        return "plain", gettext("Freed the machine of what is named here, and of nothing else")
    if record.kind in OF_BELTS:
        return "plain", summary(record)
    weight, words = _OUTCOMES[data["mark"]]
    return weight, gettext(words)


def _cautions(weight: Weight, test: ElectricalTest | None) -> Iterable[Caution]:
    """Common practice, no source."""
    if weight != "stop":
        return
    yield Caution(
        "Stop", gettext("Isolate and lock off before work. Guards back before anybody starts it.")
    )
    if test is not None:
        yield Caution(
            "Stop", gettext("A fault in it can kill. Leave it unplugged for a competent person.")
        )


# Where, when, by whom.


def _when_and_where(record: Record, machine: Machine) -> Iterator[PlateField]:
    sealed = json.loads(record.content)["machine"]
    if sealed and sealed["number"] != machine.number:
        yield PlateField(gettext("Number on that day"), sealed["number"])
    yield PlateField(gettext("Where it was"), _where(record, machine))
    yield PlateField(gettext("Date and time"), _moment(record, record.happened_at))
    if record.received_at - record.happened_at > LATE_NEWS:
        yield PlateField(gettext("Entered later"), _moment(record, record.received_at))


def _where(record: Record, machine: Machine) -> str:
    """The place by the moves up to that moment; with the site where it was out."""
    at = record.happened_at
    moves = Move.objects.filter(machine=machine)
    before = moves.filter(at__lte=at).order_by("-at", "-pk").first()
    after = moves.filter(at__gt=at).order_by("at", "pk").first()
    place = before.to if before else after.start if after else machine.place
    words = str(Place(place).label)
    if place != Place.OUT:
        return words
    stay = Stay.objects.filter(machine=machine, out_at__lte=at).exclude(back_at__lte=at).first()
    site = stay.site if stay else ""
    return f"{words}: {site}" if site else words


def _moment(record: Record, at: datetime) -> str:
    return moment_text(at.astimezone(record.depot.zone))


def _signed(record: Record, data: dict[str, Any]) -> Iterator[PlateField]:
    name = signed_name(record)
    if record.by is None:
        yield PlateField(
            gettext("Name as typed"),
            gettext("{name}; by the machine's label, without an account").format(name=name),
        )
    else:
        yield PlateField(gettext("Name as typed"), name)
        if record.by.name != name:
            yield PlateField(gettext("Called now"), record.by.name)
        yield PlateField(gettext("Role"), record.role)
    if told := signed_with(record):
        yield PlateField(gettext("Competence on that day"), told)
    elif record.kind in (Record.Kind.CHECK, *OF_BELTS):
        yield PlateField(gettext("Competence on that day"), gettext("none is asked for this"))
    else:
        yield PlateField(gettext("Competence on that day"), gettext("none counted"))
    if isolation := data.get("isolation"):
        moment = _moment(record, datetime.fromisoformat(isolation["isolated_at"]))
        yield PlateField(
            gettext("Isolated and locked off"),
            gettext("confirmed by {name}, {moment}").format(name=name, moment=moment),
        )
    if data.get("signed_in_on"):
        yield PlateField(gettext("Signed in on"), data["signed_in_on"])
    if data.get("own_work"):
        yield PlateField(
            gettext("One-person depot"), gettext("released own work, for the reason that is told")
        )


# What was asked.


def _item(answered: Answered, pictures: dict[str, tuple[RecordPhoto, str, str]]) -> Item:
    photo = pictures.get(answered.photo.name) if answered.photo else None
    return Item(
        asked=answered.asked,
        answer=_ANSWERS.get(answered.answer, answered.answer.capitalize()),
        word=answered.word,
        figure=answered.figure,
        limit=answered.limit,
        group=answered.group,
        photo=photo[1] if photo else "",
    )


def numbered_photos(
    record: Record, asked: list[Answered]
) -> dict[str, tuple[RecordPhoto, str, str]]:
    """The photos by their names, each with its number and what it is of, in the order asked."""
    found: dict[str, tuple[RecordPhoto, str, str]] = {}
    for number, each in enumerate(asked, 1):
        if each.photo:
            found[each.photo.name] = (
                each.photo,
                str(len(found) + 1),
                gettext("item {number}").format(number=number),
            )
    for photo in other_photos(record):
        found[photo.name] = (photo, str(len(found) + 1), gettext("the machine"))
    return found


def small_photo(record: Record, photo: RecordPhoto, number: str, of: str) -> Photo:
    """A photo of a record for paper; without a picture where it was erased or lost, and why."""
    if photo.erased_at is not None:
        return Photo(
            number,
            of,
            why=gettext("Erased on {record}.").format(record=_moment(record, photo.erased_at)),
        )
    try:
        with photo.file.open("rb") as file:
            small = photos.thumbnail(file.read())
    except (FileNotFoundError, ValueError):
        return Photo(number, of, why=gettext("It is not on the disk any more."))
    return Photo(number, of, jpeg=b64encode(small).decode())


# The figures.


def _facts(record: Record, data: dict[str, Any]) -> Iterator[PlateField]:
    if record.kind in OF_BELTS:
        for label, value in facts(record):
            if not label.startswith(tuple(gettext(each) for each in WORKED_OUT)):
                yield PlateField(label, value)
        yield PlateField(
            gettext("Worked out from it"), gettext("stands on the page of this record")
        )
        return
    check = Check.objects.filter(record=record).select_related("reading").first()
    if dial := data.get("dial"):
        typed = dial["typed"]
        bare = not any(each.isalpha() or each == ":" for each in typed)
        odd = check.reading.questioned if check and check.reading else ""
        told = f"{typed} h" if bare else typed
        yield PlateField(gettext("Meter"), f"{told}; questioned: {odd}" if odd else told)
    counters = data.get("counters") or {}
    odds = {row.meter.measure: row.questioned for row in read_at_check(record)} if counters else {}
    for measure, told in counters.items():
        odd = odds.get(measure, "")
        shown = f"{told['typed']} {measure}"
        yield PlateField(gettext("Counter"), f"{shown}; questioned: {odd}" if odd else shown)
    if data.get("sheet"):
        name, _, dated = data["sheet"].rpartition(", ")
        yield PlateField(
            gettext("Rule sheet"),
            gettext("{name} of {what}").format(name=name, what=iso_text(dated)),
        )
    if record.kind == Record.Kind.RELEASE:
        for key, told in data["looks"].items():
            yield PlateField(gettext(_LOOKS.get(key, key)), told)


_LOOKS = {
    "guards_on": gettext_noop("All guards and covers back on and fixed"),
    "runs": gettext_noop("Runs as it should"),
    "stop_works": gettext_noop("Its stop control stops it"),
}


def _bench(test: ElectricalTest, data: dict[str, Any]) -> Iterator[PlateField]:
    yield PlateField(gettext("Tested"), data.get("tested") or test.title)
    if test.item_serial:
        yield PlateField(gettext("Serial of what was tested"), test.item_serial)
    yield PlateField(
        gettext("Instrument"), data.get("instrument") or gettext("none of the register")
    )
    until = data.get("calibrated_until")
    told = iso_text(until) if until else gettext("no calibration was in force")
    yield PlateField(gettext("Calibration until, as on that day"), told)
    if device := data.get("device"):
        rated = device["rated_current"]["typed"]
        standard = data.get("standard") or device["profile"]
        yield PlateField(
            gettext("Device"),
            gettext("{standard}, {rated}, type {type}").format(
                standard=standard, rated=rated, type=device["type"]
            ),
        )
    if lead := data.get("lead"):
        yield PlateField(gettext("Lead"), f"{lead['length']['typed']}, {lead['core']}")
    if (brought := data.get("from_file")) and brought.get("said"):
        yield PlateField(
            gettext("Brought from a file"),
            gettext("the instrument said {said}").format(said=brought["said"]),
        )
    yield from _retests(test)


def _retests(test: ElectricalTest) -> Iterator[PlateField]:
    """The failure before it, and the tests after it up to the next pass."""
    same = (
        ElectricalTest.objects.filter(machine=test.machine_id, form=test.form)
        .exclude(pk=test.pk)
        .select_related("record__depot")
    )
    before = same.filter(at__lt=test.at).order_by("-at", "-pk").first()
    if before is not None and not before.passed:
        yield PlateField(gettext("Test again after"), _test_told(before))
    again = list(same.filter(at__gt=test.at).order_by("at", "pk"))
    for each in again:
        yield PlateField(gettext("Tested again"), _test_told(each))
        if each.passed:
            break
    if not test.passed and not again:
        yield PlateField(gettext("Tested again"), gettext("not up to the printing"))


def _last_test(record: Record, machine: Machine) -> Iterator[PlateField]:
    """The electrical test that an inspection could rest on; its own record holds the readings."""
    if record.kind != Record.Kind.INSPECTION:
        return
    last = (
        ElectricalTest.objects.filter(machine=machine, at__lte=record.happened_at)
        .select_related("record__depot")
        .order_by("-at", "-pk")
        .first()
    )
    if last is None:
        yield PlateField(gettext("Last test up to that moment"), gettext("none on record"))
        return
    yield PlateField(gettext("Last test up to that moment"), _test_told(last))
    sealed = json.loads(last.record.content)["data"]
    until = sealed.get("calibrated_until")
    told = (
        gettext("calibration until {what}").format(what=iso_text(until))
        if until
        else gettext("no calibration")
    )
    yield PlateField(
        gettext("Instrument"),
        f"{sealed.get('instrument') or gettext('none of the register')}, {told}",
    )


def _test_told(test: ElectricalTest) -> str:
    moment = _moment(test.record, test.at)
    return gettext("{what}: {result}, {moment}, record {record}").format(
        what=test.what, result=test.result, moment=moment, record=test.record.number
    )


# What came of it.


def _no_faults(record: Record) -> str:
    if record.kind in OF_BELTS:
        return ""
    return (
        gettext("It names no fault.")
        if record.kind == Record.Kind.RELEASE
        else gettext("None were found.")
    )


def _faults(record: Record, data: dict[str, Any]) -> Iterator[FaultFound]:
    """What it stopped, or, for a release check, what it freed and closed."""
    stops = Stop.objects.select_related(
        "job__done_by", "job__closed_by", "record__depot", "record__by",
        "decided_by__by", "decided_by__depot", "released_by__by", "released_by__depot",
    ).prefetch_related("decided_by__texts", "released_by__texts", "record__texts")  # fmt: skip
    if record.kind != Record.Kind.RELEASE:
        for stop in stops.filter(record=record).order_by("pk"):
            yield FaultFound(stop.words, (*_decided(record, stop), *_of_job(record, stop.job)))
        return
    for stop in stops.filter(released_by=record).order_by("pk"):
        found = PlateField(
            gettext("Found"),
            gettext("{title}, record {number}").format(
                title=_by(stop.record), number=stop.record.number
            ),
        )
        yield FaultFound(stop.words, (found, *_decided(record, stop), *_of_job(record, stop.job)))
    numbers = data.get("jobs", [])
    bare = Job.objects.filter(machine=record.machine_id, is_safety=True).select_related(
        "done_by", "closed_by"
    )
    for job in bare:
        if job.number in numbers:
            yield FaultFound(job.title, tuple(_of_job(record, job)))


def _by(record: Record) -> str:
    return f"{who(record)}, {_moment(record, record.happened_at)}"


def _decided(record: Record, stop: Stop) -> Iterator[PlateField]:
    words = str(stop.get_kind_display())
    if stop.until:
        words = gettext("{words} until {until}").format(words=words, until=day_text(stop.until))
    if stop.always:
        words = gettext("{words}; always critical, so nobody may decide otherwise").format(
            words=words
        )
    if stop.note:
        words = f"{words}: {stop.note}"
    if stop.decided_by:
        words = gettext("{rstrip}. Decided by {decided_by}").format(
            rstrip=words.rstrip("."), decided_by=_by(stop.decided_by)
        )
    yield PlateField(gettext("Decision"), words)
    if stop.released_by is None:
        yield PlateField(gettext("Freed"), gettext("not up to the printing"))
    elif stop.released_by_id != record.pk:
        freed = stop.released_by
        yield PlateField(
            gettext("Freed"),
            gettext("{moment}, release check, record {record}").format(
                moment=_by(freed), record=freed.number
            ),
        )


def _of_job(record: Record, job: Job | None) -> Iterator[PlateField]:
    if job is None:
        yield PlateField(gettext("Job"), "none")
        return
    yield PlateField(gettext("Job"), f"{job.number}, {job.get_state_display().lower()}")
    done = " ".join(filter(None, (job.cause and f"Cause: {job.cause}.", job.action)))
    if job.done_at and job.done_by:
        done = f"{done.rstrip('.')}. {job.done_by.name}, {_moment(record, job.done_at)}"
    if job.called_off_because:
        done = (
            gettext("{done} Called off: {called_off_because}")
            .format(done=done, called_off_because=job.called_off_because)
            .strip()
        )
    yield PlateField(
        gettext("What was done"), done.replace("..", ".") or gettext("nothing up to the printing")
    )
    if job.closed_at:
        closed = _moment(record, job.closed_at)
        if job.closed_by:
            closed = gettext("{moment} by {person}").format(
                moment=closed, person=job.closed_by.name
            )
        yield PlateField(gettext("Closed"), closed)
    else:
        yield PlateField(gettext("Closed"), gettext("not up to the printing"))


def _nothing_coming(machine: Machine) -> str:
    if machine.place == Place.GONE:
        return gettext("This machine is gone: no work falls due on it.")
    return gettext("No plan runs on this machine.")


def _coming(machine: Machine, at: datetime) -> Iterator[Due]:
    if machine.place == Place.GONE:
        return
    on = machine.depot.day_of(at)
    coming = coming_of(machine, on)
    for each in coming[:MOST_DUE]:
        yield Due(each.what, each.due, each.state)
    if len(coming) > MOST_DUE:
        yield Due(
            gettext("And more"),
            gettext("{count} later lines of its plan").format(count=len(coming) - MOST_DUE),
            gettext("Not due yet"),
        )
    if look := look_over_due(machine, on):
        state = gettext("Overdue") if look.overdue else gettext("Not due yet")
        yield Due(
            gettext("Look-over"), gettext("holds until {due}").format(due=day_text(look.due)), state
        )
