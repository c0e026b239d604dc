"""What was asked in a record and answered: questions, readings of a test, steps."""

import json
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from maintenance.contents.record import ASKING, text_of
from maintenance.contents.record_facts import label_of
from maintenance.models import Inspection
from maintenance.rules.sheet import cited
from plant.models import Record, RecordPhoto

_LEVELS: dict[str, str] = {
    "always": _("Wrong stops it, always"),
    "stops": _("Wrong stops it"),
    "decide": _("Wrong: a foreman decides"),
}
_FINDING_ACTS: dict[str, str] = {
    "isolated": _("Isolated: stopped, cut off, stored energy gone, tag on."),
    "running": _("All guards back and fixed, nobody near."),
}


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
    if record.kind not in ASKING:
        return []
    data = json.loads(record.content)["data"]
    given = {each["item"]: each for each in data["given"]}
    judged = {each["item"]: each for each in data.get("judged", [])}
    photos = {photo.name: photo for photo in record.photos.all()}
    units = _units(record) if record.kind == Record.Kind.INSPECTION else {}
    return [
        Answered(
            asked=item["words"],
            level=gettext(_LEVELS.get(item["level"], item["level"])),
            answer=judged.get(item["item"], given[item["item"]])["answer"],
            word=text_of(record, given[item["item"]]["text"] or ""),
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
            what=each.get("asked") or label_of(each["reading"]),
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
    by = text_of(record, step["text"]) or gettext("name erased")
    told = [f"{step['told']}. {by}."] if "told" in step else [f"{by}."]
    if step.get("figures"):
        told.append(f"{step['figures']}.")
    if step.get("record"):
        told.append(gettext("By the reading of record {record}.").format(record=step["record"]))
    if step.get("taken_back"):
        told.append(gettext("Taken back."))
    asked = step.get("words") or gettext(_FINDING_ACTS[step["kind"]])
    return Stepped(number, asked, "", step.get("caution", ""), told)


def _stepped(record: Record, answer: dict[str, Any]) -> str:
    name = answer["text"]
    by = text_of(record, f"{name}_by") or gettext("name erased")
    if not answer["done"]:
        return gettext("Not done: {record}. {by}.").format(
            record=text_of(record, f"{name}_because") or gettext("words erased"), by=by
        )
    if answer["figure"] is None:
        return gettext("Done. {by}.").format(by=by)
    figure = answer["figure"]
    told = f"{figure['typed']} ({figure['si']} {figure['unit']})"
    tool = text_of(record, f"{name}_tool") or gettext("words erased")
    told = gettext("{told}, by {tool}").format(told=told, tool=tool)
    if answer["out_of_range"]:
        told = gettext("{told}, outside the range, looked at again").format(told=told)
    return f"{told}. {by}."
