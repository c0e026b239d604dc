"""A sealed record in words: one line for the machine's story, and all of it for its own page."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_noop as _

from maintenance.models import Inspection, Skill
from maintenance.rules.sheet import cited
from maintenance.rules.words import day_text, list_text
from plant.contents.people import told_change
from plant.counted_words import count_text
from plant.models import Phone, Record, RecordPhoto, User
from plant.models.record import BY_RULE

Fact = tuple[str, str]
# What comes later than this after it happened is called entered later.
LATE_NEWS = timedelta(minutes=5)

_LABELS: dict[str, str] = {
    "account": _("Account number"),
    "chain": _("Chain of depot"),
    "counted": _("Counted"),
    "kept": _("Kept for"),
    "again_after": _("Erased again after record"),
    "asked_at": _("Asked for at"),
    "asked_by": _("Asked for by, account number"),
    "files": _("With kept files"),
    "others_words": _("With words of others"),
    "own_words": _("With their own words"),
    "listed_on": _("Listed on"),
    "of_kind": _("Records of the kind, key"),
    "upto": _("Up to record number"),
    "across": _("Distance between the gaps"),
    "action": _("Action"),
    "answer": "Answer",
    "asked": _("Questions asked"),
    "because": _("Why it was ended"),
    "belts": _("Number of belts"),
    "by_hand": _("Told by hand"),
    "by_label": _("By label"),
    "calibrated_until": _("Calibrated until"),
    "came_with": _("What came with it"),
    "cause": _("Cause"),
    "certificate": _("Certificate"),
    "cause_key": _("Cause, key of the list"),
    "cause_listed": _("Symptom and cause of the list, keys"),
    "clean": _("Clean"),
    "competence": "Competence",
    "condition": _("Condition"),
    "content_sha256": _("SHA-256 of what it says"),
    "corrected": _("Reading that was corrected"),
    "corroded": _("Rust or pitting on the flanks"),
    "counts": _("Counted"),
    "datum": _("Datum length"),
    "decision": _("Decision"),
    "device": _("RCD"),
    "dial": _("On the dial"),
    "counters": _("On the counter"),
    "dish": _("Gap under the groove gauge"),
    "differs": _("Differs from ours"),
    "done_on": _("Done on"),
    "driven": _("Driven pulley"),
    "driver": _("Motor pulley"),
    "due_back": _("Due back on"),
    "ended_in": _("Ended in"),
    "falls_due": _("Falls due while out"),
    "family": _("Family of machines"),
    "far": _("Gap at the far edge"),
    "five": _("At five times the rated current"),
    "form": _("Form, key"),
    "finding": _("Finding, number"),
    "found": _("As found"),
    "frees": _("Frees"),
    "from_file": _("Brought from a file"),
    "from": _("From"),
    "from_depot": _("From depot"),
    "fuel": _("Fuel"),
    "given": _("Answers"),
    "hour": _("Hour of the day"),
    "guards_on": _("Guards and covers on"),
    "half": _("At half the rated current"),
    "hirer": "Hirer",
    "hirer_phone": "Hirer's phone",
    "instrument": "Instrument",
    "isolated_at": _("Isolated at"),
    "isolated_by": _("Isolated by, account number"),
    "isolation": _("Isolation"),
    "item": _("Item"),
    "item_serial": _("Serial of what was tested"),
    "job": "Job",
    "jobs": _("Jobs looked over"),
    "joins": _("Joins earlier work"),
    "judged": _("Judged"),
    "kind": _("Kind of work"),
    "label": _("Link of the label"),
    "lead": _("Lead"),
    "learner": _("Worked as a learner"),
    "learners": _("Learners, account numbers"),
    "level": _("What a wrong answer does"),
    "limit": _("Limit"),
    "list": _("Which list"),
    "looked_at": _("Records looked at"),
    "looks": _("Looked at"),
    "mark": _("Outcome"),
    "estimated": _("Run without a dial, estimated"),
    "meter_is": _("The meter is"),
    "past": _("Past its last figure"),
    "rolled_over": _("Went round to nought"),
    "meter": _("On the dial"),
    "minutes": _("Minutes"),
    "missing": _("Did not come back"),
    "motor_in": _("Motor moved in first"),
    "move": "Move",
    "near": _("Gap at the near edge"),
    "next_check": _("Next check"),
    "not_measured": _("Old belt not measured, because"),
    "not_read": _("Tension not read, because"),
    "not_tested": _("Not tested, because"),
    "note": "Note",
    "note_shown": _("Note was shown"),
    "now": _("Now"),
    "old": _("Old belt"),
    "old_width": _("Record of the old width"),
    "own_work": _("Released own work"),
    "part": "Part",
    "parts": _("Parts"),
    "odds": _("Odds at the end"),
    "passed": _("Passed"),
    "passport": _("Passport goes with it"),
    "person": _("Person"),
    "plan": _("What is done about it"),
    "plan_reason": _("Why it goes all the same"),
    "profile": _("Device standard, key"),
    "pulley": _("Pulley"),
    "quantity": _("Quantity"),
    "questioned": _("Questioned because"),
    "rated": _("At the rated current"),
    "read_as": _("Read as"),
    "reading": _("Reading"),
    "reading_of": _("What was read"),
    "readings": _("Readings"),
    "reads": _("Reads, by unit"),
    "reason": _("Reason"),
    "received_on": _("Came on"),
    "record": "Record",
    "refused": _("Refused"),
    "rule": _("By the rule"),
    "row": _("Row"),
    "runs": _("Runs as it should"),
    "set": _("Set to"),
    "said": _("The instrument said"),
    "sha256": "SHA-256",
    "sheet": _("Rule sheet"),
    "shines": _("Floor of the groove shines"),
    "short": _("In short"),
    "short_code": _("The four characters"),
    "signed_in_on": _("Signed in on"),
    "site": _("Site"),
    "site_phone": _("Site phone"),
    "skill": _("For what work"),
    "slot_out": _("Slot: room left outwards"),
    "source": _("Source of the limit"),
    "standard": _("Device standard"),
    "started_from": _("Odds to start from"),
    "starting_odds": _("Starting odds"),
    "step": _("Step in the flank"),
    "stock": _("Record of the stock"),
    "stop": "Stop",
    "stop_now": _("Stop it now"),
    "stop_works": _("Stop control works"),
    "stops": _("Stops freed"),
    "struck_out": _("Struck out"),
    "sums": _("Sums, version"),
    "symptom": _("Symptom"),
    "symptom_key": _("Symptom, key of the list"),
    "taken_by": _("Taken over by"),
    "taken_by_record": _("Taken by record"),
    "taken_out": _("Taken out"),
    "tension": _("Record of the tension"),
    "tested": _("What was tested"),
    "text": _("Words in"),
    "tight": _("Belt tight there"),
    "to": _("To"),
    "to_depot": _("To depot"),
    "together": _("All belts of the set new"),
    "told": _("What was said"),
    "tool": _("Tool"),
    "total": _("In all"),
    "trust": _("How far the source was seen"),
    "until": _("Until"),
    "valid_until": _("Valid until"),
    "verdict": _("Verdict"),
    "was": _("Was"),
    "was_fitted": _("A new belt was fitted"),
    "was_mark": _("Mark as first told"),
    "went_with": _("What went with it"),
    "why": _("Why"),
    "width_u": _("Doubt of the width"),
    "words": _("As it was asked"),
}


_LEVELS: dict[str, str] = {
    "always": _("Wrong stops it, always"),
    "stops": _("Wrong stops it"),
    "decide": _("Wrong: a foreman decides"),
}

_MARKS: dict[str, str] = {
    "passed": "passed",
    "not passed": _("could not be passed"),
    "decide": _("a foreman decides"),
    "stop": _("stopped the machine"),
}
_LISTS: dict[str, str] = {"look-over": "Look-over", "inspection": "Inspection"}
OF_BELTS = (
    Record.Kind.WIDTH, Record.Kind.TENSION, Record.Kind.RIDE, Record.Kind.ALIGNMENT,
    Record.Kind.PULLEY,
)  # fmt: skip
# Records that have a paper of their own.
WITH_A_PAPER = (
    Record.Kind.CHECK, Record.Kind.INSPECTION, Record.Kind.RELEASE, Record.Kind.TEST, *OF_BELTS,
)  # fmt: skip
_FINDING_ACTS: dict[str, str] = {
    "isolated": _("Isolated: stopped, cut off, stored energy gone, tag on."),
    "running": _("All guards back and fixed, nobody near."),
}
# Kinds of record that hold questions with their answers, which have a table of their own.
_ASKING = (Record.Kind.CHECK, Record.Kind.INSPECTION)


@dataclass(frozen=True)
class Told:
    """One line of the story: when, what, who, the record behind it, and the one that put it right.

    put_right: None where the record stands as it was told.
    """

    record: Record
    at: datetime
    what: str
    who: str
    put_right: Record | None = None


def story(records: Iterable[Record]) -> list[Told]:
    """The records as lines; give them with ``by`` and ``texts`` read ahead."""
    told = list(records)
    later = Record.objects.filter(corrects__in=[each.pk for each in told]).order_by("seq")
    put_right = {each.corrects_id: each for each in later.select_related("depot")}
    return [
        Told(
            record=each, at=each.happened_at, what=summary(each), who=who(each),
            put_right=put_right.get(each.pk),
        )
        for each in told
    ]  # fmt: skip


@dataclass(frozen=True)
class PutRight:
    """One thing that was put right: what was told first, what is right, and by which record.

    record: None where another depot put it right, whose records this person does not see.
    """

    record: Record | None
    was: str = ""
    now: str = _("put right in another depot")
    who: str = ""
    why: str = ""


def put_right(record: Record, user: User) -> list[PutRight]:
    """What this record puts right, and what later ones put right of it, oldest first."""
    found = [record] if record.kind == Record.Kind.CORRECTION else []
    found += following(record)
    if record.kind == Record.Kind.METER and '"questioned":""' not in record.content:
        found += told_fully().filter(
            kind=Record.Kind.DECISION, machine=record.machine_id, content__contains=str(record.pk)
        )
    seen = Record.objects.visible_to(user).filter(pk__in=[each.pk for each in found])
    shown = set(seen.values_list("pk", flat=True)) if found else set()
    found.sort(key=lambda each: (each.happened_at, each.received_at, each.seq))
    return [_put_right(each) if each.pk in shown else PutRight(None) for each in found]


def told_fully() -> QuerySet[Record]:
    """Records with all that is said of a correction read ahead."""
    return Record.objects.select_related("by", "depot").prefetch_related("texts")


def following(record: Record) -> Iterable[Record]:
    """Each correction of the record, and of that correction, wherever it was sealed."""
    wanted = [record.pk]
    while wanted:
        # A correction is made after what it corrects, so this ends.
        found = list(told_fully().filter(corrects__in=wanted))
        yield from found
        wanted = [each.pk for each in found]


def _put_right(record: Record) -> PutRight:
    data = json.loads(record.content)["data"]
    if "figure" in data:
        was, now = gettext("questioned, and moved nothing"), str(data["decision"])
    elif "reading_of" in data:
        was, now = data["was"], data["now"]
    elif "was_done_on" in data:
        was = gettext("done on {was_done_on}").format(was_done_on=_day(data["was_done_on"]))
        now = (
            gettext("done on {done_on}").format(done_on=_day(data["done_on"]))
            if data["done_on"]
            else "not done"
        )
    elif "was_fitted" in data:
        was, now = (
            data["was_mark"],
            data["mark"] if data["was_fitted"] else gettext("no belt was fitted"),
        )
    else:
        certificate = (
            gettext(", certificate {certificate}").format(certificate=data["certificate"])
            if data.get("certificate")
            else ""
        )
        was = gettext("calibration of {done_on}{certificate}").format(
            done_on=_day(data["done_on"]), certificate=certificate
        )
        now = gettext("struck out: entered by mistake")
    return PutRight(record, was, now, who(record), _text(record, "reason") or "words erased")


def who(record: Record) -> str:
    """Who signed it: the person, or the name that was given at the label."""
    if record.by is not None:
        return record.by.name
    if record.role == BY_RULE:
        return gettext("By the rule sheet, nobody signed")
    name = next((t.text for t in record.texts.all() if t.name == "by_name"), "")
    return gettext("{name}, by label").format(name=name or "name erased")


def summary(record: Record) -> str:
    """What the record says, in one line."""
    data = json.loads(record.content)["data"]
    kind = record.get_kind_display()
    if record.kind == Record.Kind.CHECK:
        return f"{kind}: {_MARKS.get(data.get('mark'), '')}"
    if record.kind == Record.Kind.INSPECTION:
        return f"{_LISTS[data['list']]}: {_MARKS.get(data.get('mark'), '')}"
    if record.kind == Record.Kind.METER and "total" not in data:
        what = data.get("estimated", {}).get("typed")
        told = (
            gettext("{what} without a dial, estimated").format(what=what)
            if what
            else data["meter_is"]
        )
        return f"{kind}: {told}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.METER:
        told = f"{kind}: {data['total']['typed']}"
        return f"{told}, questioned" if data.get("questioned") else told
    if record.kind == Record.Kind.TEST:
        result = "passed" if data.get("passed") else "failed"
        brought = data.get("from_file", {})
        if brought.get("differs"):
            result = gettext("{result}, though the instrument said {said}").format(
                result=result, said=brought["said"]
            )
        serial = (
            gettext(", serial {item_serial}").format(item_serial=data["item_serial"])
            if data.get("item_serial")
            else ""
        )
        return (
            f"{kind}: {data['tested']}{serial}: {result}"
            if "tested" in data
            else f"{kind}: {result}"
        )
    if record.kind == Record.Kind.INSTRUMENT:
        told = f"{kind}: {data['instrument']}: {data['move']}"
        if data["move"] == "calibrated":
            until = (
                gettext(", valid until {valid_until}").format(valid_until=data["valid_until"])
                if data["valid_until"]
                else ""
            )
            return gettext("{told}, found {found}{until}").format(
                told=told, found=data["found"], until=until
            )
        return told
    if record.kind == Record.Kind.STOCK:
        return _stock(record, data)
    if record.kind == Record.Kind.BELT:
        return gettext("{kind}: {mark}, in {job}").format(
            kind=kind, mark=data["mark"], job=data["job"]
        )
    if record.kind == Record.Kind.FAULT:
        part = data.get("short") or _text(record, "part")
        return f"{kind}: {part}: {_text(record, 'told')}"
    if record.kind == Record.Kind.STOP:
        return f"{kind}: {_text(record, 'why')}"
    if record.kind == Record.Kind.JOB and data.get("move") == "countersigned":
        return gettext("Countersigned: {job}: work of {record}").format(
            job=data["job"], record=_learners(record)
        )
    if record.kind == Record.Kind.JOB and data.get("move") == "sent back":
        return gettext("Sent back: {job}: {record}").format(
            job=data["job"], record=_text(record, "reason")
        )
    if record.kind == Record.Kind.JOB and data.get("move") in ("ordered", "kept"):
        done = gettext("Belt ordered") if data["move"] == "ordered" else gettext("Belt kept for it")
        return f"{done}: {data['mark']}, {data['job']}"
    if record.kind == Record.Kind.JOB:
        return f"{kind}: {data.get('job')}: {_text(record, 'action')}"
    if record.kind == Record.Kind.FINDING:
        return f"{kind}: {data['job']}: {data['symptom']}: {data['ended_in']}"
    if record.kind == Record.Kind.DECISION:
        until = gettext(" until {until}").format(until=data["until"]) if data.get("until") else ""
        about = f"{data['job']}: " if data.get("job") else ""
        return f"{kind}: {about}{data.get('decision')}{until}"
    if record.kind == Record.Kind.ANSWER:
        said = _text(record, "answer")
        return f"{kind}: {data['job']}: {said or 'I have it'}"
    if record.kind == Record.Kind.RELEASE:
        jobs = [each["job"] for each in data.get("stops", []) if each["job"]] + data["jobs"]
        return gettext("{kind}: after {join}").format(
            kind=kind, join=", ".join(dict.fromkeys(jobs)) or gettext("a stop without a job")
        )
    if record.kind == Record.Kind.LABEL:
        return f"{kind}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.SHEET:
        return f"{kind}: {data.get('sheet')} {data.get('number')}"
    if record.kind == Record.Kind.FILES:
        if data.get("batch"):
            return gettext("{kind}: all of batch {batch} in one file").format(
                kind=kind, batch=data["batch"]
            )
        numbers = [each["number"] for each in data["sheets"]]
        return ngettext(
            "{kind}: {count} sheet, from {number} on",
            "{kind}: {count} sheets, from {number} on",
            len(numbers),
        ).format(kind=kind, count=len(numbers), number=numbers[0])
    if record.kind == Record.Kind.PLACE:
        return _moved(record, data)
    if record.kind == Record.Kind.COMPETENCE:
        return f"{kind}: {_skill(data['skill'])}: {_text(record, 'person')}: {data['move']}"
    if record.kind == Record.Kind.ACCESS:
        of = f": {_text(record, 'person')}" if _text(record, "person") else ""
        return f"{kind}{of}: {told_change(data)}"
    if record.kind == Record.Kind.PUT_OFF:
        return gettext("{kind}: {title} to {put_off_to}: {record}").format(
            kind=kind,
            title=data["title"],
            put_off_to=_day(data["put_off_to"]),
            record=_text(record, "reason"),
        )
    if record.kind == Record.Kind.PLAN:
        since = (
            gettext(" from {from_on}").format(from_on=_day(data["from_on"]))
            if data.get("from_on")
            else ""
        )
        return f"{kind}: {data['title']}: {data['change']}{since}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.CORRECTION and "was_done_on" in data:
        right = (
            gettext("done on {done_on}").format(done_on=_day(data["done_on"]))
            if data["done_on"]
            else "not done"
        )
        was = _day(data["was_done_on"])
        return gettext("{kind}: {title}: {right}, not {was}: {record}").format(
            kind=kind, title=data["title"], right=right, was=was, record=_text(record, "reason")
        )
    if record.kind == Record.Kind.CORRECTION and "reading_of" in data:
        what = str(Record.Kind(data["reading_of"]).label)
        return gettext("{kind}: {what}: {was}, now {now}: {record}").format(
            kind=kind, what=what, was=data["was"], now=data["now"], record=_text(record, "reason")
        )
    if record.kind == Record.Kind.HELD:
        done = gettext("held back") if data["move"] == "held" else "released"
        return f"{kind}: {done}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.ERASED:
        return f"{kind}: {_erased(data)}"
    if record.kind in OF_BELTS and "verdict" in data:
        return f"{kind}: {data['verdict']}"
    if record.kind == Record.Kind.CORRECTION and "was_fitted" in data:
        right = (
            gettext("it is {mark}").format(mark=data["mark"])
            if data["was_fitted"]
            else gettext("no belt was fitted")
        )
        return gettext("{kind}: belt {was_mark}: {right}: {record}").format(
            kind=kind, was_mark=data["was_mark"], right=right, record=_text(record, "reason")
        )
    if record.kind == Record.Kind.CORRECTION and data.get("struck_out") == "calibration":
        done = _day(data["done_on"])
        return gettext("{kind}: {instrument}: calibration of {done} struck out: {record}").format(
            kind=kind, instrument=data["instrument"], done=done, record=_text(record, "reason")
        )
    return str(kind)


def _erased(data: dict[str, Any]) -> str:
    """What a record of erasing took."""
    took = [count_text(int(data[each]), each[:-1]) for each in ("texts", "photos")]
    if data["move"] == "time over":
        what = str(Record.Kind(data["of_kind"]).label)
        return gettext("{what}, {took}, kept {kept}").format(
            what=what, took=list_text(took), kept=data["kept"]
        )
    return f"{data['person']}, {list_text(took)}"


@dataclass(frozen=True)
class Erasure:
    """Why words or photos of a record are gone, and the record that says so."""

    record: Record
    words: str


def erasures(record: Record) -> list[Erasure]:
    """Each once; read with ``texts__erased_with`` and ``photos__erased_with``, depot and signer."""
    found = {
        each.erased_with.pk: each.erased_with
        for each in [*record.texts.all(), *record.photos.all()]
        if each.erased_with is not None
    }
    return [Erasure(each, _why_erased(each)) for each in found.values()]


def _why_erased(record: Record) -> str:
    data = json.loads(record.content)["data"]
    on = day_text(record.depot.day_of(record.happened_at))
    if data["move"] == "time over":
        return gettext(
            "Words and photos of this record were erased on {on} by rule, kept {kept}."
        ).format(on=on, kept=data["kept"])
    return gettext("Words of this record were erased on {on} by {record}, for {person}.").format(
        on=on, record=who(record), person=data["person"]
    )


def heading(record: Record) -> str:
    """What the record is, as the heading of its page."""
    if record.kind == Record.Kind.JOB:
        move = json.loads(record.content)["data"].get("move")
        return {
            "countersigned": gettext("Job countersigned"),
            "sent back": gettext("Job sent back"),
        }.get(move, str(record.get_kind_display()))
    return str(record.get_kind_display())


_STOCK: dict[str, str] = {
    "received": _("Received"), "counted": _("Counted"), "taken": _("Taken to a job"),
    "returned": _("Put back"), "moved": _("Moved"),
}  # fmt: skip


def _stock(record: Record, data: dict[str, Any]) -> str:
    """What moved, how many, from where to where."""
    done = _STOCK.get(data["move"], data["move"])
    if "counts" in data:
        told = ", ".join(
            gettext("{quantity} x {part}").format(quantity=each["quantity"], part=each["part"])
            for each in data["counts"]
        )
        return gettext("{done}: {told}, in {record}").format(
            done=done, told=told, record=_text(record, "place")
        )
    way = [f"{name} {text}" for name in ("from", "to") if (text := _text(record, name))]
    job = gettext(" for {job}").format(job=data["job"]) if data.get("job") else ""
    return gettext("{done}: {quantity} x {part} {way}{job}").format(
        done=done, quantity=data["quantity"], part=data["part"], way=" ".join(way), job=job
    )


def _learners(record: Record) -> str:
    names = [
        t.text or gettext("name erased")
        for t in record.texts.all()
        if t.name.startswith("learner_")
    ]
    return ", ".join(names)


def _skill(key: str) -> str:
    """The kind of work within a sentence; a key that is no more is shown as it stands."""
    return Skill(key).within if key in Skill.values else key


def _signed_with(kept: dict[str, Any]) -> Fact:
    """The competence as it counted when the record was signed."""
    until = kept["until"]
    last = (
        gettext("last day {what}").format(what=day_text(date.fromisoformat(until)))
        if until
        else gettext("without a last day")
    )
    told = gettext("{competence}, {last}, given in record {number}").format(
        competence=_skill(kept["competence"]), last=last, number=kept["number"]
    )
    return "Competence on that day", told


def signed_with(record: Record) -> str:
    """The competence with which it was signed, as it counted on that day; "" where none was."""
    kept = json.loads(record.content)["data"].get("competence")
    return _signed_with(kept)[1] if kept else ""


def signed_name(record: Record) -> str:
    """The name as it was sealed; who was called otherwise since is still called so here."""
    return next((t.text for t in record.texts.all() if t.name == "by_name"), "") or gettext(
        "name erased"
    )


def _day(iso: str) -> str:
    return day_text(date.fromisoformat(iso))


def _moved(record: Record, data: dict[str, Any]) -> str:
    if data.get("refused"):
        return gettext("{move} refused: {record}").format(
            move=data["move"], record=_text(record, "why")
        )
    where = _text(record, "site") or data.get("to_depot") or ""
    told = gettext("{move}: {from_} to {to}{what}").format(
        move=data["move"], from_=data["from"], to=data["to"], what=f", {where}" if where else ""
    )
    return f"{told}: {_text(record, 'reason')}" if _text(record, "reason") else told


@dataclass(frozen=True)
class Answered:
    """One question of a check, or one point of a list, as it was asked and answered."""

    asked: str
    level: str
    answer: str
    word: str
    photo: RecordPhoto | None = None
    group: str = ""
    figure: str = ""
    limit: str = ""


def answers(record: Record) -> list[Answered]:
    """The questions in the order asked; nothing for a kind of record that asked none."""
    if record.kind not in _ASKING:
        return []
    data = json.loads(record.content)["data"]
    given = {each["item"]: each for each in data["given"]}
    judged = {each["item"]: each for each in data.get("judged", [])}
    photos = {photo.name: photo for photo in record.photos.all()}
    units = _units(record) if record.kind == Record.Kind.INSPECTION else {}
    return [
        Answered(
            asked=item["words"],
            level=_LEVELS.get(item["level"], item["level"]),
            answer=judged.get(item["item"], given[item["item"]])["answer"],
            word=_text(record, given[item["item"]]["text"] or ""),
            photo=photos.get(item["item"]),
            group=item.get("group", ""),
            figure=_with_unit(given[item["item"]].get("figure") or "", units.get(item["item"], "")),
            limit=_limit(item),
        )
        for item in data["asked"]
    ]


def _units(record: Record) -> dict[str, str]:
    """The units of the points that take a figure, by the rule sheet of that day."""
    row = Inspection.objects.filter(record=record).select_related("sheet").first()
    points = row.sheet.rules.look_over.points if row else ()
    return {point.key: point.unit for point in points if point.unit}


def _with_unit(typed: str, unit: str) -> str:
    """As typed; a plain number with the unit of its box."""
    bare = typed and not any(each.isalpha() for each in typed)
    return f"{typed} {unit}".rstrip() if bare else typed


def _limit(item: dict[str, Any]) -> str:
    if not item.get("limit"):
        return ""
    return f"{item['limit']} ({cited(item['source'], item['trust'])})"


def other_photos(record: Record) -> list[RecordPhoto]:
    """The photos that belong to no single item."""
    beside = {each.photo.name for each in answers(record) if each.photo}
    return [photo for photo in record.photos.all() if photo.name not in beside]


@dataclass(frozen=True)
class Measured:
    """One reading of an electrical test as it was sealed: what, the figure, and how it was judged.

    passed: None where it was not tested.
    """

    what: str
    reading: str
    limit: str
    passed: bool | None
    source: str
    trust: str

    @property
    def origin(self) -> str:
        return cited(self.source, self.trust)

    @property
    def result(self) -> str:
        return {True: "OK", False: "Wrong", None: "Could not check"}[self.passed]


def measured(record: Record) -> list[Measured]:
    """The readings of an electrical test in the order asked; nothing for another record."""
    if record.kind != Record.Kind.TEST:
        return []
    data = json.loads(record.content)["data"]
    read = {each["reading"]: each["typed"] for each in data["readings"]}
    return [
        Measured(
            # Tests of the first months named their three readings by key alone.
            what=each.get("asked") or _label(each["reading"]),
            reading=read.get(each["reading"], "not tested"),
            limit=each["limit"],
            passed=each["passed"],
            source=each["source"],
            trust=each["trust"],
        )
        for each in data["judged"]
    ]


@dataclass(frozen=True)
class Stepped:
    """One step of a job as it was asked, and each answer to it, oldest first."""

    number: str
    asked: str
    target: str
    caution: str
    answers: list[str]


def steps(record: Record) -> list[Stepped]:
    """The steps of a job or a finding, in the words of that day; nothing for another record."""
    if record.kind == Record.Kind.FINDING:
        told = json.loads(record.content)["data"]["steps"]
        return [_tried(record, each, number=str(n)) for n, each in enumerate(told, 1)]
    if record.kind != Record.Kind.JOB:
        return []
    return [
        Stepped(
            number=each["step"],
            asked=each["words"],
            target=" ".join(dict.fromkeys(filter(None, (each["target"], each["unit"]))))
            if each["unit"] not in each["range"] or not each["range"]
            else each["range"],
            caution=each["caution"],
            answers=[_stepped(record, answer) for answer in each["answers"]],
        )
        for each in json.loads(record.content)["data"].get("steps", [])
    ]


def _tried(record: Record, step: dict[str, Any], *, number: str) -> Stepped:
    by = _text(record, step["text"]) or gettext("name erased")
    told = [f"{step['told']}. {by}."] if "told" in step else [f"{by}."]
    if step.get("figures"):
        told.append(f"{step['figures']}.")
    if step.get("record"):
        told.append(gettext("By the reading of record {record}.").format(record=step["record"]))
    if step.get("taken_back"):
        told.append(gettext("Taken back."))
    asked = step.get("words") or _FINDING_ACTS[step["kind"]]
    return Stepped(number, asked, "", step.get("caution", ""), told)


def _stepped(record: Record, answer: dict[str, Any]) -> str:
    name = answer["text"]
    by = _text(record, f"{name}_by") or gettext("name erased")
    if not answer["done"]:
        return gettext("Not done: {record}. {by}.").format(
            record=_text(record, f"{name}_because") or "words erased", by=by
        )
    if answer["figure"] is None:
        return f"Done. {by}."
    figure = answer["figure"]
    told = f"{figure['typed']} ({figure['si']} {figure['unit']})"
    tool = _text(record, f"{name}_tool") or "words erased"
    odd = gettext(", outside the range, looked at again") if answer["out_of_range"] else ""
    return gettext("{told}, by {tool}{odd}. {by}.").format(told=told, tool=tool, odd=odd, by=by)


def facts(record: Record) -> list[Fact]:
    """Everything else that was sealed in the record's data, as label and value."""
    data = json.loads(record.content)["data"]
    if record.kind in _ASKING:
        told = ("asked", "given", "judged")
        data = {key: value for key, value in data.items() if key not in told}
        if data.get("dial") is None:
            data.pop("dial", None)  # nobody gave a figure
    if record.kind in (Record.Kind.JOB, Record.Kind.FINDING):
        data.pop("steps", None)
    if record.kind == Record.Kind.COMPETENCE:
        data["skill"] = _skill(data["skill"])
        data["family"] = data["family"].replace("_", " ") or gettext("every family")
    if record.kind == Record.Kind.TEST:
        data = {
            key: value
            for key, value in data.items()
            if key not in ("readings", "judged") and value is not None
        }
    if "signed_in_on" in data:
        data["signed_in_on"] = _named(data["signed_in_on"])
    return _flat(data, before="")


def _named(phone: str) -> str:
    """The shared phone with its name beside its number; the seal holds the number alone."""
    number = phone.rpartition(" ")[2]
    row = Phone.objects.filter(pk=number).first() if number.isdigit() else None
    return f"{phone} ({row.name})" if row else phone


def words(record: Record) -> list[Fact]:
    """The words of the record; what was erased by law says so."""
    return [
        (
            _label(text.name),
            gettext("erased on {erased_at}").format(erased_at=f"{text.erased_at:%Y-%m-%d}")
            if text.erased_at
            else text.text,
        )
        for text in record.texts.all()
        if text.name != "by_name"
        and not (record.kind in _ASKING and text.name.startswith("word_"))
        and not (record.kind == Record.Kind.JOB and text.name.startswith("step_"))
        and not (record.kind == Record.Kind.FINDING and text.name.startswith("finding_"))
    ]


def _text(record: Record, name: str) -> str:
    return next((t.text for t in record.texts.all() if t.name == name), "")


def _flat(part: Any, *, before: str) -> list[Fact]:
    if isinstance(part, dict):
        if set(part) == {"competence", "until", "number"}:
            return [_signed_with(part)]
        if set(part) == {"typed", "si", "unit"}:
            si = "" if part["unit"] == "1" else f" ({part['si']} {part['unit']})"
            return [(before, f"{part['typed']}{si}")]
        found = []
        for key, value in part.items():
            label = f"{before}: {_label(key).lower()}" if before else _label(key)
            found += _flat(value, before=label)
        return found
    if isinstance(part, list):
        if all(isinstance(each, str) for each in part):
            return [(before, ", ".join(part) or "none")]
        found = []
        for n, each in enumerate(part, 1):
            found += _flat(each, before=f"{before} {n}")
        return found
    return [(before, _value(part))]


def _value(value: object) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value) or "none"


def _label(name: str) -> str:
    if name in _LABELS:
        return _LABELS[name]
    plain = name.replace("_", " ")
    return plain[:1].upper() + plain[1:]
