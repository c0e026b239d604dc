"""A sealed record in one line, for the machine's story: what it says, and who signed."""

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_noop as _

from maintenance.models import Skill
from maintenance.rules.words import iso_text, list_text
from plant.contents.people import told_change
from plant.counted_words import count_text
from plant.models import Record
from plant.models.record import BY_RULE

Data = dict[str, Any]
# What comes later than this after it happened is called entered later.
LATE_NEWS = timedelta(minutes=5)
_MARKS: dict[str, str] = {
    "passed": _("passed"),
    "not passed": _("could not be passed"),
    "decide": _("a foreman decides"),
    "stop": _("stopped the machine"),
}
_LISTS: dict[str, str] = {"look-over": _("Look-over"), "inspection": _("Inspection")}
OF_BELTS = (
    Record.Kind.WIDTH, Record.Kind.TENSION, Record.Kind.RIDE, Record.Kind.ALIGNMENT,
    Record.Kind.PULLEY,
)  # fmt: skip
# Kinds of record that hold questions with their answers, which have a table of their own.
ASKING = (Record.Kind.CHECK, Record.Kind.INSPECTION)
# Records that have a paper of their own.
WITH_A_PAPER = (
    *ASKING, Record.Kind.RELEASE, Record.Kind.TEST, *OF_BELTS,
)  # fmt: skip


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


def who(record: Record) -> str:
    """Who signed it: the person, or the name that was given at the label."""
    if record.by is not None:
        return record.by.name
    if record.role == BY_RULE:
        return gettext("By the rule sheet, nobody signed")
    name = next((t.text for t in record.texts.all() if t.name == "by_name"), "")
    return gettext("{name}, by label").format(name=name or gettext("name erased"))


def summary(record: Record) -> str:
    """What the record says, in one line."""
    data = json.loads(record.content)["data"]
    kind = str(record.get_kind_display())
    says = _SAYS.get(record.kind)
    return says(record, data, kind) if says else kind


def heading(record: Record) -> str:
    """What the record is, as the heading of its page."""
    if record.kind == Record.Kind.JOB:
        move = json.loads(record.content)["data"].get("move")
        return {
            "countersigned": gettext("Job countersigned"),
            "sent back": gettext("Job sent back"),
        }.get(move, str(record.get_kind_display()))
    return str(record.get_kind_display())


def text_of(record: Record, name: str) -> str:
    return next((t.text for t in record.texts.all() if t.name == name), "")


def skill_words(key: str) -> str:
    """The kind of work within a sentence; a key that is no more is shown as it stands."""
    return Skill(key).within if key in Skill.values else key


# --- What a record of each kind says; _SAYS at the end has them all ---------------------------


def _check(record: Record, data: Data, kind: str) -> str:
    return f"{kind}: {gettext(_MARKS.get(data.get('mark', ''), ''))}"


def _inspection(record: Record, data: Data, kind: str) -> str:
    mark = gettext(_MARKS.get(data.get("mark", ""), ""))
    return f"{gettext(_LISTS[data['list']])}: {mark}"


def _meter(record: Record, data: Data, kind: str) -> str:
    if "total" in data:
        told = f"{kind}: {data['total']['typed']}"
        return gettext("{told}, questioned").format(told=told) if data.get("questioned") else told
    what = data.get("estimated", {}).get("typed")
    told = (
        gettext("{what} without a dial, estimated").format(what=what) if what else data["meter_is"]
    )
    return f"{kind}: {told}: {text_of(record, 'reason')}"


def _belt_reading(record: Record, data: Data, kind: str) -> str:
    return f"{kind}: {data['verdict']}" if "verdict" in data else kind


def _belt(record: Record, data: Data, kind: str) -> str:
    return gettext("{kind}: {mark}, in {job}").format(kind=kind, mark=data["mark"], job=data["job"])


def _test(record: Record, data: Data, kind: str) -> str:
    result = gettext("passed") if data.get("passed") else gettext("failed")
    brought = data.get("from_file", {})
    if brought.get("differs"):
        result = gettext("{result}, though the instrument said {said}").format(
            result=result, said=brought["said"]
        )
    if "tested" not in data:
        return f"{kind}: {result}"
    tested = data["tested"]
    if data.get("item_serial"):
        tested = gettext("{tested}, serial {serial}").format(
            tested=tested, serial=data["item_serial"]
        )
    return f"{kind}: {tested}: {result}"


def _instrument(record: Record, data: Data, kind: str) -> str:
    told = f"{kind}: {data['instrument']}: {data['move']}"
    if data["move"] != "calibrated":
        return told
    told = gettext("{told}, found {found}").format(told=told, found=data["found"])
    if data["valid_until"]:
        told = gettext("{told}, valid until {day}").format(told=told, day=data["valid_until"])
    return told


_STOCK: dict[str, str] = {
    "received": _("Received"), "counted": _("Counted"), "taken": _("Taken to a job"),
    "returned": _("Put back"), "moved": _("Moved"),
}  # fmt: skip


def _stock(record: Record, data: Data, kind: str) -> str:
    """What moved, how many, from where to where."""
    move: str = data["move"]
    done = gettext(_STOCK.get(move, move))
    if "counts" in data:
        told = ", ".join(
            gettext("{quantity} x {part}").format(quantity=each["quantity"], part=each["part"])
            for each in data["counts"]
        )
        return gettext("{done}: {told}, in {record}").format(
            done=done, told=told, record=text_of(record, "place")
        )
    moved = f"{done}: {data['quantity']} x {data['part']}"
    source, target = text_of(record, "from"), text_of(record, "to")
    told = "{moved}"
    if source and target:
        told = gettext("{moved} from {source} to {target}")
    elif source or target:
        told = gettext("{moved} from {source}") if source else gettext("{moved} to {target}")
    told = told.format(moved=moved, source=source, target=target)
    job = data.get("job")
    return gettext("{moved} for {job}").format(moved=told, job=job) if job else told


def _fault(record: Record, data: Data, kind: str) -> str:
    part = data.get("short") or text_of(record, "part")
    return f"{kind}: {part}: {text_of(record, 'told')}"


def _stop(record: Record, data: Data, kind: str) -> str:
    return f"{kind}: {text_of(record, 'why')}"


def _job(record: Record, data: Data, kind: str) -> str:
    move = data.get("move")
    if move == "countersigned":
        learners = [
            each.text or gettext("name erased")
            for each in record.texts.all()
            if each.name.startswith("learner_")
        ]
        return gettext("Countersigned: {job}: work of {record}").format(
            job=data["job"], record=", ".join(learners)
        )
    if move == "sent back":
        return gettext("Sent back: {job}: {record}").format(
            job=data["job"], record=text_of(record, "reason")
        )
    if move in ("ordered", "kept"):
        done = gettext("Belt ordered") if move == "ordered" else gettext("Belt kept for it")
        return f"{done}: {data['mark']}, {data['job']}"
    return f"{kind}: {data.get('job')}: {text_of(record, 'action')}"


def _finding(record: Record, data: Data, kind: str) -> str:
    return f"{kind}: {data['job']}: {data['symptom']}: {data['ended_in']}"


def _decision(record: Record, data: Data, kind: str) -> str:
    about = f"{data['job']}: " if data.get("job") else ""
    told = f"{kind}: {about}{data.get('decision')}"
    if data.get("until"):
        return gettext("{decision} until {day}").format(decision=told, day=data["until"])
    return told


def _answer(record: Record, data: Data, kind: str) -> str:
    return f"{kind}: {data['job']}: {text_of(record, 'answer') or gettext('I have it')}"


def _release(record: Record, data: Data, kind: str) -> str:
    jobs = [each["job"] for each in data.get("stops", []) if each["job"]] + data["jobs"]
    return gettext("{kind}: after {join}").format(
        kind=kind, join=", ".join(dict.fromkeys(jobs)) or gettext("a stop without a job")
    )


def _label(record: Record, data: Data, kind: str) -> str:
    return f"{kind}: {text_of(record, 'reason')}"


def _sheet(record: Record, data: Data, kind: str) -> str:
    return f"{kind}: {data.get('sheet')} {data.get('number')}"


def _files(record: Record, data: Data, kind: str) -> str:
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


def _place(record: Record, data: Data, kind: str) -> str:
    if data.get("refused"):
        return gettext("{move} refused: {record}").format(
            move=data["move"], record=text_of(record, "why")
        )
    where = text_of(record, "site") or data.get("to_depot") or ""
    told = gettext("{move}: {from_} to {to}").format(
        move=data["move"], from_=data["from"], to=data["to"]
    )
    told = f"{told}, {where}" if where else told
    return f"{told}: {text_of(record, 'reason')}" if text_of(record, "reason") else told


def _competence(record: Record, data: Data, kind: str) -> str:
    return f"{kind}: {skill_words(data['skill'])}: {text_of(record, 'person')}: {data['move']}"


def _access(record: Record, data: Data, kind: str) -> str:
    of = f": {text_of(record, 'person')}" if text_of(record, "person") else ""
    return f"{kind}{of}: {told_change(data)}"


def _put_off(record: Record, data: Data, kind: str) -> str:
    return gettext("{kind}: {title} to {put_off_to}: {record}").format(
        kind=kind,
        title=data["title"],
        put_off_to=iso_text(data["put_off_to"]),
        record=text_of(record, "reason"),
    )


def _plan(record: Record, data: Data, kind: str) -> str:
    told = f"{kind}: {data['title']}: {data['change']}"
    if data.get("from_on"):
        told = gettext("{change} from {day}").format(change=told, day=iso_text(data["from_on"]))
    return f"{told}: {text_of(record, 'reason')}"


def _correction(record: Record, data: Data, kind: str) -> str:
    reason = text_of(record, "reason")
    if "was_done_on" in data:
        right = (
            gettext("done on {done_on}").format(done_on=iso_text(data["done_on"]))
            if data["done_on"]
            else gettext("not done")
        )
        was = iso_text(data["was_done_on"])
        return gettext("{kind}: {title}: {right}, not {was}: {record}").format(
            kind=kind, title=data["title"], right=right, was=was, record=reason
        )
    if "reading_of" in data:
        what = str(Record.Kind(data["reading_of"]).label)
        return gettext("{kind}: {what}: {was}, now {now}: {record}").format(
            kind=kind, what=what, was=data["was"], now=data["now"], record=reason
        )
    if "was_fitted" in data:
        right = (
            gettext("it is {mark}").format(mark=data["mark"])
            if data["was_fitted"]
            else gettext("no belt was fitted")
        )
        return gettext("{kind}: belt {was_mark}: {right}: {record}").format(
            kind=kind, was_mark=data["was_mark"], right=right, record=reason
        )
    if data.get("struck_out") == "calibration":
        done = iso_text(data["done_on"])
        return gettext("{kind}: {instrument}: calibration of {done} struck out: {record}").format(
            kind=kind, instrument=data["instrument"], done=done, record=reason
        )
    return kind


def _held(record: Record, data: Data, kind: str) -> str:
    done = gettext("held back") if data["move"] == "held" else gettext("released")
    return f"{kind}: {done}: {text_of(record, 'reason')}"


def _erased(record: Record, data: Data, kind: str) -> str:
    """What a record of erasing took."""
    took = [count_text(int(data[each]), each[:-1]) for each in ("texts", "photos")]
    if data["move"] != "time over":
        return f"{kind}: {data['person']}, {list_text(took)}"
    what = str(Record.Kind(data["of_kind"]).label)
    told = gettext("{what}, {took}, kept {kept}").format(
        what=what, took=list_text(took), kept=data["kept"]
    )
    return f"{kind}: {told}"


# A kind that is not here is told by its name.
_SAYS: dict[str, Callable[[Record, Data, str], str]] = {
    Record.Kind.CHECK: _check,
    Record.Kind.FAULT: _fault,
    Record.Kind.METER: _meter,
    **dict.fromkeys(OF_BELTS, _belt_reading),
    Record.Kind.BELT: _belt,
    Record.Kind.FINDING: _finding,
    Record.Kind.TEST: _test,
    Record.Kind.DECISION: _decision,
    Record.Kind.STOP: _stop,
    Record.Kind.JOB: _job,
    Record.Kind.RELEASE: _release,
    Record.Kind.PLACE: _place,
    Record.Kind.INSPECTION: _inspection,
    Record.Kind.ANSWER: _answer,
    Record.Kind.COMPETENCE: _competence,
    Record.Kind.ACCESS: _access,
    Record.Kind.INSTRUMENT: _instrument,
    Record.Kind.LABEL: _label,
    Record.Kind.PUT_OFF: _put_off,
    Record.Kind.PLAN: _plan,
    Record.Kind.STOCK: _stock,
    Record.Kind.SHEET: _sheet,
    Record.Kind.FILES: _files,
    Record.Kind.HELD: _held,
    Record.Kind.ERASED: _erased,
    Record.Kind.CORRECTION: _correction,
}
