"""A sealed record in words: one line for the machine's story, and all of it for its own page."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import QuerySet

from maintenance.models import Inspection, Skill
from maintenance.rules.sheet import cited
from maintenance.rules.words import count_text, day_text, list_text
from plant.contents.people import told_change
from plant.models import Phone, Record, RecordPhoto, User
from plant.models.record import BY_RULE

Fact = tuple[str, str]
# What comes later than this after it happened is called entered later.
LATE_NEWS = timedelta(minutes=5)

_LABELS: dict[str, str] = {
    "account": "Account number",
    "chain": "Chain of depot",
    "counted": "Counted",
    "kept": "Kept for",
    "again_after": "Erased again after record",
    "asked_at": "Asked for at",
    "asked_by": "Asked for by, account number",
    "files": "With kept files",
    "others_words": "With words of others",
    "own_words": "With their own words",
    "listed_on": "Listed on",
    "of_kind": "Records of the kind, key",
    "upto": "Up to record number",
    "across": "Distance between the gaps",
    "action": "Action",
    "answer": "Answer",
    "asked": "Questions asked",
    "because": "Why it was ended",
    "belts": "Number of belts",
    "by_hand": "Told by hand",
    "by_label": "By label",
    "calibrated_until": "Calibrated until",
    "came_with": "What came with it",
    "cause": "Cause",
    "certificate": "Certificate",
    "cause_key": "Cause, key of the list",
    "cause_listed": "Symptom and cause of the list, keys",
    "clean": "Clean",
    "competence": "Competence",
    "condition": "Condition",
    "content_sha256": "SHA-256 of what it says",
    "corrected": "Reading that was corrected",
    "corroded": "Rust or pitting on the flanks",
    "counts": "Counted",
    "datum": "Datum length",
    "decision": "Decision",
    "device": "RCD",
    "dial": "On the dial",
    "counters": "On the counter",
    "dish": "Gap under the groove gauge",
    "differs": "Differs from ours",
    "done_on": "Done on",
    "driven": "Driven pulley",
    "driver": "Motor pulley",
    "due_back": "Due back on",
    "ended_in": "Ended in",
    "falls_due": "Falls due while out",
    "family": "Family of machines",
    "far": "Gap at the far edge",
    "five": "At five times the rated current",
    "form": "Form, key",
    "finding": "Finding, number",
    "found": "As found",
    "frees": "Frees",
    "from_file": "Brought from a file",
    "from": "From",
    "from_depot": "From depot",
    "fuel": "Fuel",
    "given": "Answers",
    "hour": "Hour of the day",
    "guards_on": "Guards and covers on",
    "half": "At half the rated current",
    "hirer": "Hirer",
    "hirer_phone": "Hirer's phone",
    "instrument": "Instrument",
    "isolated_at": "Isolated at",
    "isolated_by": "Isolated by, account number",
    "isolation": "Isolation",
    "item": "Item",
    "item_serial": "Serial of what was tested",
    "job": "Job",
    "jobs": "Jobs looked over",
    "joins": "Joins earlier work",
    "judged": "Judged",
    "kind": "Kind of work",
    "label": "Link of the label",
    "lead": "Lead",
    "learner": "Worked as a learner",
    "learners": "Learners, account numbers",
    "level": "What a wrong answer does",
    "limit": "Limit",
    "list": "Which list",
    "looked_at": "Records looked at",
    "looks": "Looked at",
    "mark": "Outcome",
    "estimated": "Run without a dial, estimated",
    "meter_is": "The meter is",
    "past": "Past its last figure",
    "rolled_over": "Went round to nought",
    "meter": "On the dial",
    "minutes": "Minutes",
    "missing": "Did not come back",
    "motor_in": "Motor moved in first",
    "move": "Move",
    "near": "Gap at the near edge",
    "next_check": "Next check",
    "not_measured": "Old belt not measured, because",
    "not_read": "Tension not read, because",
    "not_tested": "Not tested, because",
    "note": "Note",
    "note_shown": "Note was shown",
    "now": "Now",
    "old": "Old belt",
    "old_width": "Record of the old width",
    "own_work": "Released own work",
    "part": "Part",
    "parts": "Parts",
    "odds": "Odds at the end",
    "passed": "Passed",
    "passport": "Passport goes with it",
    "person": "Person",
    "plan": "What is done about it",
    "plan_reason": "Why it goes all the same",
    "profile": "Device standard, key",
    "pulley": "Pulley",
    "quantity": "Quantity",
    "questioned": "Questioned because",
    "rated": "At the rated current",
    "read_as": "Read as",
    "reading": "Reading",
    "reading_of": "What was read",
    "readings": "Readings",
    "reads": "Reads, by unit",
    "reason": "Reason",
    "received_on": "Came on",
    "record": "Record",
    "refused": "Refused",
    "rule": "By the rule",
    "row": "Row",
    "runs": "Runs as it should",
    "set": "Set to",
    "said": "The instrument said",
    "sha256": "SHA-256",
    "sheet": "Rule sheet",
    "shines": "Floor of the groove shines",
    "short": "In short",
    "short_code": "The four characters",
    "signed_in_on": "Signed in on",
    "site": "Site",
    "site_phone": "Site phone",
    "skill": "For what work",
    "slot_out": "Slot: room left outwards",
    "source": "Source of the limit",
    "standard": "Device standard",
    "started_from": "Odds to start from",
    "starting_odds": "Starting odds",
    "step": "Step in the flank",
    "stock": "Record of the stock",
    "stop": "Stop",
    "stop_now": "Stop it now",
    "stop_works": "Stop control works",
    "stops": "Stops freed",
    "struck_out": "Struck out",
    "sums": "Sums, version",
    "symptom": "Symptom",
    "symptom_key": "Symptom, key of the list",
    "taken_by": "Taken over by",
    "taken_by_record": "Taken by record",
    "taken_out": "Taken out",
    "tension": "Record of the tension",
    "tested": "What was tested",
    "text": "Words in",
    "tight": "Belt tight there",
    "to": "To",
    "to_depot": "To depot",
    "together": "All belts of the set new",
    "told": "What was said",
    "tool": "Tool",
    "total": "In all",
    "trust": "How far the source was seen",
    "until": "Until",
    "valid_until": "Valid until",
    "verdict": "Verdict",
    "was": "Was",
    "was_fitted": "A new belt was fitted",
    "was_mark": "Mark as first told",
    "went_with": "What went with it",
    "why": "Why",
    "width_u": "Doubt of the width",
    "words": "As it was asked",
}


_LEVELS: dict[str, str] = {
    "always": "Wrong stops it, always",
    "stops": "Wrong stops it",
    "decide": "Wrong: a foreman decides",
}

_MARKS: dict[str, str] = {
    "passed": "passed",
    "not passed": "could not be passed",
    "decide": "a foreman decides",
    "stop": "stopped the machine",
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
    "isolated": "Isolated: stopped, cut off, stored energy gone, tag on.",
    "running": "All guards back and fixed, nobody near.",
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
    now: str = "put right in another depot"
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
        was, now = "questioned, and moved nothing", str(data["decision"])
    elif "reading_of" in data:
        was, now = data["was"], data["now"]
    elif "was_done_on" in data:
        was = f"done on {_day(data['was_done_on'])}"
        now = f"done on {_day(data['done_on'])}" if data["done_on"] else "not done"
    elif "was_fitted" in data:
        was, now = data["was_mark"], data["mark"] if data["was_fitted"] else "no belt was fitted"
    else:
        certificate = f", certificate {data['certificate']}" if data.get("certificate") else ""
        was = f"calibration of {_day(data['done_on'])}{certificate}"
        now = "struck out: entered by mistake"
    return PutRight(record, was, now, who(record), _text(record, "reason") or "words erased")


def who(record: Record) -> str:
    """Who signed it: the person, or the name that was given at the label."""
    if record.by is not None:
        return record.by.name
    if record.role == BY_RULE:
        return "By the rule sheet, nobody signed"
    name = next((t.text for t in record.texts.all() if t.name == "by_name"), "")
    return f"{name or 'name erased'}, by label"


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
        told = f"{what} without a dial, estimated" if what else data["meter_is"]
        return f"{kind}: {told}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.METER:
        told = f"{kind}: {data['total']['typed']}"
        return f"{told}, questioned" if data.get("questioned") else told
    if record.kind == Record.Kind.TEST:
        result = "passed" if data.get("passed") else "failed"
        brought = data.get("from_file", {})
        if brought.get("differs"):
            result = f"{result}, though the instrument said {brought['said']}"
        serial = f", serial {data['item_serial']}" if data.get("item_serial") else ""
        return (
            f"{kind}: {data['tested']}{serial}: {result}"
            if "tested" in data
            else f"{kind}: {result}"
        )
    if record.kind == Record.Kind.INSTRUMENT:
        told = f"{kind}: {data['instrument']}: {data['move']}"
        if data["move"] == "calibrated":
            until = f", valid until {data['valid_until']}" if data["valid_until"] else ""
            return f"{told}, found {data['found']}{until}"
        return told
    if record.kind == Record.Kind.STOCK:
        return _stock(record, data)
    if record.kind == Record.Kind.BELT:
        return f"{kind}: {data['mark']}, in {data['job']}"
    if record.kind == Record.Kind.FAULT:
        part = data.get("short") or _text(record, "part")
        return f"{kind}: {part}: {_text(record, 'told')}"
    if record.kind == Record.Kind.STOP:
        return f"{kind}: {_text(record, 'why')}"
    if record.kind == Record.Kind.JOB and data.get("move") == "countersigned":
        return f"Countersigned: {data['job']}: work of {_learners(record)}"
    if record.kind == Record.Kind.JOB and data.get("move") == "sent back":
        return f"Sent back: {data['job']}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.JOB and data.get("move") in ("ordered", "kept"):
        done = "Belt ordered" if data["move"] == "ordered" else "Belt kept for it"
        return f"{done}: {data['mark']}, {data['job']}"
    if record.kind == Record.Kind.JOB:
        return f"{kind}: {data.get('job')}: {_text(record, 'action')}"
    if record.kind == Record.Kind.FINDING:
        return f"{kind}: {data['job']}: {data['symptom']}: {data['ended_in']}"
    if record.kind == Record.Kind.DECISION:
        until = f" until {data['until']}" if data.get("until") else ""
        about = f"{data['job']}: " if data.get("job") else ""
        return f"{kind}: {about}{data.get('decision')}{until}"
    if record.kind == Record.Kind.ANSWER:
        said = _text(record, "answer")
        return f"{kind}: {data['job']}: {said or 'I have it'}"
    if record.kind == Record.Kind.RELEASE:
        jobs = [each["job"] for each in data.get("stops", []) if each["job"]] + data["jobs"]
        return f"{kind}: after {', '.join(dict.fromkeys(jobs)) or 'a stop without a job'}"
    if record.kind == Record.Kind.LABEL:
        return f"{kind}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.SHEET:
        return f"{kind}: {data.get('sheet')} {data.get('number')}"
    if record.kind == Record.Kind.FILES:
        if data.get("batch"):
            return f"{kind}: all of batch {data['batch']} in one file"
        numbers = [each["number"] for each in data["sheets"]]
        return f"{kind}: {count_text(len(numbers), 'sheet')}, from {numbers[0]} on"
    if record.kind == Record.Kind.PLACE:
        return _moved(record, data)
    if record.kind == Record.Kind.COMPETENCE:
        return f"{kind}: {_skill(data['skill'])}: {_text(record, 'person')}: {data['move']}"
    if record.kind == Record.Kind.ACCESS:
        of = f": {_text(record, 'person')}" if _text(record, "person") else ""
        return f"{kind}{of}: {told_change(data)}"
    if record.kind == Record.Kind.PUT_OFF:
        return f"{kind}: {data['title']} to {_day(data['put_off_to'])}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.PLAN:
        since = f" from {_day(data['from_on'])}" if data.get("from_on") else ""
        return f"{kind}: {data['title']}: {data['change']}{since}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.CORRECTION and "was_done_on" in data:
        right = f"done on {_day(data['done_on'])}" if data["done_on"] else "not done"
        was = _day(data["was_done_on"])
        return f"{kind}: {data['title']}: {right}, not {was}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.CORRECTION and "reading_of" in data:
        what = Record.Kind(data["reading_of"]).label
        return f"{kind}: {what}: {data['was']}, now {data['now']}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.HELD:
        done = "held back" if data["move"] == "held" else "released"
        return f"{kind}: {done}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.ERASED:
        return f"{kind}: {_erased(data)}"
    if record.kind in OF_BELTS and "verdict" in data:
        return f"{kind}: {data['verdict']}"
    if record.kind == Record.Kind.CORRECTION and "was_fitted" in data:
        right = f"it is {data['mark']}" if data["was_fitted"] else "no belt was fitted"
        return f"{kind}: belt {data['was_mark']}: {right}: {_text(record, 'reason')}"
    if record.kind == Record.Kind.CORRECTION and data.get("struck_out") == "calibration":
        done = _day(data["done_on"])
        return (
            f"{kind}: {data['instrument']}: calibration of {done} struck out: "
            f"{_text(record, 'reason')}"
        )
    return str(kind)


def _erased(data: dict[str, Any]) -> str:
    """What a record of erasing took."""
    took = [count_text(int(data[each]), each[:-1]) for each in ("texts", "photos")]
    if data["move"] == "time over":
        what = Record.Kind(data["of_kind"]).label
        return f"{what}, {list_text(took)}, kept {data['kept']}"
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
        return f"Words and photos of this record were erased on {on} by rule, kept {data['kept']}."
    return f"Words of this record were erased on {on} by {who(record)}, for {data['person']}."


def heading(record: Record) -> str:
    """What the record is, as the heading of its page."""
    if record.kind == Record.Kind.JOB:
        move = json.loads(record.content)["data"].get("move")
        return {"countersigned": "Job countersigned", "sent back": "Job sent back"}.get(
            move, str(record.get_kind_display())
        )
    return str(record.get_kind_display())


_STOCK: dict[str, str] = {
    "received": "Received", "counted": "Counted", "taken": "Taken to a job",
    "returned": "Put back", "moved": "Moved",
}  # fmt: skip


def _stock(record: Record, data: dict[str, Any]) -> str:
    """What moved, how many, from where to where."""
    done = _STOCK.get(data["move"], data["move"])
    if "counts" in data:
        told = ", ".join(f"{each['quantity']} x {each['part']}" for each in data["counts"])
        return f"{done}: {told}, in {_text(record, 'place')}"
    way = [f"{name} {text}" for name in ("from", "to") if (text := _text(record, name))]
    job = f" for {data['job']}" if data.get("job") else ""
    return f"{done}: {data['quantity']} x {data['part']} {' '.join(way)}{job}"


def _learners(record: Record) -> str:
    names = [t.text or "name erased" for t in record.texts.all() if t.name.startswith("learner_")]
    return ", ".join(names)


def _skill(key: str) -> str:
    """The kind of work within a sentence; a key that is no more is shown as it stands."""
    return Skill(key).within if key in Skill.values else key


def _signed_with(kept: dict[str, Any]) -> Fact:
    """The competence as it counted when the record was signed."""
    until = kept["until"]
    last = f"last day {day_text(date.fromisoformat(until))}" if until else "without a last day"
    told = f"{_skill(kept['competence'])}, {last}, given in record {kept['number']}"
    return "Competence on that day", told


def signed_with(record: Record) -> str:
    """The competence with which it was signed, as it counted on that day; "" where none was."""
    kept = json.loads(record.content)["data"].get("competence")
    return _signed_with(kept)[1] if kept else ""


def signed_name(record: Record) -> str:
    """The name as it was sealed; who was called otherwise since is still called so here."""
    return next((t.text for t in record.texts.all() if t.name == "by_name"), "") or "name erased"


def _day(iso: str) -> str:
    return day_text(date.fromisoformat(iso))


def _moved(record: Record, data: dict[str, Any]) -> str:
    if data.get("refused"):
        return f"{data['move']} refused: {_text(record, 'why')}"
    where = _text(record, "site") or data.get("to_depot") or ""
    told = f"{data['move']}: {data['from']} to {data['to']}{f', {where}' if where else ''}"
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
    by = _text(record, step["text"]) or "name erased"
    told = [f"{step['told']}. {by}."] if "told" in step else [f"{by}."]
    if step.get("figures"):
        told.append(f"{step['figures']}.")
    if step.get("record"):
        told.append(f"By the reading of record {step['record']}.")
    if step.get("taken_back"):
        told.append("Taken back.")
    asked = step.get("words") or _FINDING_ACTS[step["kind"]]
    return Stepped(number, asked, "", step.get("caution", ""), told)


def _stepped(record: Record, answer: dict[str, Any]) -> str:
    name = answer["text"]
    by = _text(record, f"{name}_by") or "name erased"
    if not answer["done"]:
        return f"Not done: {_text(record, f'{name}_because') or 'words erased'}. {by}."
    if answer["figure"] is None:
        return f"Done. {by}."
    figure = answer["figure"]
    told = f"{figure['typed']} ({figure['si']} {figure['unit']})"
    tool = _text(record, f"{name}_tool") or "words erased"
    odd = ", outside the range, looked at again" if answer["out_of_range"] else ""
    return f"{told}, by {tool}{odd}. {by}."


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
        data["family"] = data["family"].replace("_", " ") or "every family"
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
            f"erased on {text.erased_at:%Y-%m-%d}" if text.erased_at else text.text,
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
