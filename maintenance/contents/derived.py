"""Whether the columns that pages and sums read still say what their sealed records say.

The records are the proof; these rows are worked out from them, so that lists can be sorted and
sums done. ``plant.contents.chain`` says whether a record is as it was sealed.
"""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypeAlias

from django.db.models import Model, Q

from maintenance.models import (
    AlignmentReading,
    BeltFitting,
    Calibration,
    Check,
    Competence,
    ElectricalTest,
    Inspection,
    MeterReading,
    Move,
    PulleyReading,
    PutOff,
    RideReading,
    SlotReading,
    StockMove,
    Stop,
    TensionReading,
    WidthReading,
)
from plant import units
from plant.lazy_text import as_written
from plant.models import Depot, Measure, Place, Record
from plant.sealing import moment

Data: TypeAlias = "dict[str, Any]"
# What a column must hold by the sealed data; ANY where the record leaves it open.
Said: TypeAlias = Callable[[Data], object]
ANY = object()
BLOCK = 2000


@dataclass(frozen=True, kw_only=True)
class Copy:
    """What one kind of row says after its record.

    columns: each column and what it must hold; left: each other column, and why it is not held
    against the record; at: the column of the moment; kind: of which every record has such a row.
    """

    columns: Mapping[str, Said]
    left: Mapping[str, str] = field(default_factory=dict)
    at: str = "at"
    kind: Record.Kind | None = None


def _si(*path: str) -> Said:
    """The SI value at this place; nothing where no figure was given."""

    def said(data: Data) -> object:
        for name in path:
            data = data.get(name) or {}
        return data.get("si")

    return said


def _as(name: str, *, none: object = None) -> Said:
    return lambda data: none if data.get(name) is None else data[name]


def _word(name: str, words: Mapping[str, object]) -> Said:
    return lambda data: words.get(data.get(name, ""), ANY)


def _dial(data: Data) -> object:
    """[0.1] Hours are sealed in seconds, every other count as it is."""
    each = 360 if data.get("counts", Measure.HOURS) == Measure.HOURS else Decimal("0.1")
    return int(Decimal(data["dial"]["si"]) / each)


def _across(data: Data) -> object:
    return data["across"]["si"] if data.get("across") else ANY


def _tight(data: Data) -> object:
    told = {"yes": True, "no": False, "not sure": None}
    if "tight" in data:
        return told[data["tight"]]
    return True if "tension" in data else None


def _gauged(data: Data) -> object:
    return "" if data["verdict"] == "not gauged" else data["verdict"]


def _pieces(data: Data) -> object:
    return int(data["quantity"]) if "quantity" in data else ANY


_SEEN = {"yes": True, "no": False, "not looked at": None}
_PLACES = {as_written(Place(value).label): value for value in Place.values}
_OWNER = "whose it is follows from the machine of the record, which is held against it"
_FROM_TOOL = "worked out from the tool"
_OF_BELTS: dict[str, Said] = {"sums_version": _as("sums")}
_BELT_LEFT = {"drive": _OWNER, "stands": "held against the corrections of its record"}
_STAGE = {"stage": "worked out from the hours since the belt was fitted"}

COPIES: dict[type[Model], Copy] = {
    MeterReading: Copy(
        columns={"dial_tenths": _dial},
        left={
            "meter": _OWNER,
            "total_tenths": "moves when a time without a dial is put right; held against the dial",
            "questioned": "held against its record and the decisions on it",
        },
    ),
    WidthReading: Copy(
        columns=_OF_BELTS
        | {
            "width_m": _si("width"), "u_m": _si("u"), "tool": _as("tool"),
            "verdict": _as("verdict"),
        },
        left=_BELT_LEFT | {"hours_tenths": "follows from the meter"},
        kind=Record.Kind.WIDTH,
    ),
    TensionReading: Copy(
        columns=_OF_BELTS
        | {
            "method": _as("method"), "tension_n": _si("tension"), "u_n": _si("u"),
            "required_n": _si("required"), "stage": _as("stage"), "tool": _as("tool"),
            "verdict": _as("lies"),
        },
        left=_BELT_LEFT,
        kind=Record.Kind.TENSION,
    ),
    RideReading: Copy(
        columns=_OF_BELTS
        | {
            "driver_m": _si("driver"), "driven_m": _si("driven"), "u_m": _si("u"),
            "tool": _as("tool"), "verdict": _as("verdict"),
        },
        left=_BELT_LEFT | _STAGE,
    ),
    SlotReading: Copy(
        columns=_OF_BELTS
        | {"out_m": _si("slot_out"), "tight": _tight, "verdict": _as("verdict")},
        left=_BELT_LEFT
        | _STAGE
        | {"u_m": _FROM_TOOL, "tool": "of another reading's record where it came with one"},
    ),
    AlignmentReading: Copy(
        columns=_OF_BELTS
        | {
            "near_m": _si("near"), "far_m": _si("far"), "across_m": _across,
            "tool": _as("tool"), "verdict": _as("verdict"),
        },
        left=_BELT_LEFT | {"u_m": _FROM_TOOL},
        kind=Record.Kind.ALIGNMENT,
    ),
    PulleyReading: Copy(
        columns=_OF_BELTS
        | {
            "pulley": _as("pulley"), "dish_m": _si("dish"), "tool": _as("tool"),
            "shines": _word("shines", _SEEN), "step": _word("step", _SEEN),
            "corroded": _word("corroded", _SEEN), "verdict": _gauged,
        },
        left=_BELT_LEFT | {"u_m": _FROM_TOOL},
        kind=Record.Kind.PULLEY,
    ),
    ElectricalTest: Copy(
        columns={
            "passed": _as("passed"), "form": _as("form"), "title": _as("tested"),
            "item_serial": _as("item_serial", none=""), "instrument": _as("instrument", none=""),
        },
        left={
            "machine": _OWNER,
            "item": "follows from the form",
            "profile": "stands in the record under the name of its standard",
            "made_with": "the instrument's name is held",
            "doubted_by": "worked out from the calibrations, which are held",
        },
        kind=Record.Kind.TEST,
    ),
    Check: Copy(
        columns={"mark": _as("mark")},
        left={
            "machine": _OWNER,
            "sheet": "its name and date are in the record",
            "by_label": "follows from the role of the record",
            "reading": "has a record of its own",
        },
        kind=Record.Kind.CHECK,
    ),
    Inspection: Copy(
        columns={"mark": _as("mark"), "kind": _as("list")},
        left={"machine": _OWNER, "sheet": "its name and date are in the record"},
        kind=Record.Kind.INSPECTION,
    ),
    Calibration: Copy(
        columns={
            "done_on": _as("done_on"), "valid_until": _as("valid_until"),
            "certificate": _as("certificate"),
            "found_good": _word("found", {"good": True, "wrong": False}),
        },
        left={"instrument": "its name is in the record", "struck_by": "held against corrections"},
        at="",
    ),
    Competence: Copy(
        columns={
            "skill": _as("skill"), "family": _as("family"), "valid_from": _as("from"),
            "valid_until": _as("until"),
        },
        left={
            "user": "the account's number is in the record",
            "depot": _OWNER,
            "told": "a text of the record, where it can be erased",
            "ended_on": "held against the records that end one",
            "ended_because": "a text of the record that ended it",
            "end_record": "held against the records that end one",
        },
        at="",
    ),
    PutOff: Copy(
        columns={"to_on": _as("put_off_to")},
        left={
            "due_line": "its key and title are in the record",
            "cycle": "follows from what was done before",
            "due_on": "the day from which the limit counts, today where the hours are up",
            "reason": "a text of the record, where it can be erased",
            "by": "the record's own",
        },
        kind=Record.Kind.PUT_OFF,
    ),
    Move: Copy(
        columns={"start": _word("from", _PLACES), "to": _word("to", _PLACES)},
        left={"machine": _OWNER, "reason": "a text of the record, where it can be erased"},
    ),
    StockMove: Copy(
        columns={"pieces": _pieces, "received_on": _as("received_on")},
        left={
            "part": "may be given another name later; its name then is in the record",
            "place": "a text of the record, since a van may be called after a person",
            "kind": "one movement between places is two rows",
            "change": "held without its sign, which follows from the kind",
            "counted": "held against the counts of the record",
            "job": "its number is in the record",
            "used": "the row of the job that it went into",
        },
    ),
    BeltFitting: Copy(
        columns={"mark": _as("mark"), "width_m": _si("width")},
        left={
            "drive": _OWNER,
            "job": "its number is in the record",
            "width_u_m": _FROM_TOOL,
            "before": "the drive's belt before, from the records before",
            "struck_by": "held against corrections",
        },
        kind=Record.Kind.BELT,
    ),
}  # fmt: skip
# Rows that stand on a record and are not held against it, and why.
NOT_HELD: dict[str, str] = {
    "Answer": "what it says is a text of its record; the kind only sorts it",
    "Completion": "worked out from the jobs and tests that were sealed; struck by a correction",
    "Erasure": "a request; what was taken is shown from its record",
    "Finding": "its steps are sealed whole and shown from the record",
    "Instrument": "name and serial may not be changed by any page; shown beside the record",
    "Job": "shows how far the work is; what was done is shown from its records",
    "KeepHold": "why is a text of its record; which machine is its record's",
    "KeepListing": "a promise; what went by it is in its record",
    "Labour": "minutes for the sums of work; the record of the job holds them",
    "PartUsed": "stock and money follow it; the record of the job or the movement holds it",
    "Stay": "shown beside the record of the move",
    "Stop": "held by _stops, since three records speak of one row",
    "Transfer": "shown beside the record of the move",
}


def first_derived_fault(depot: Depot) -> tuple[int, str] | None:
    """The lowest record whose row no longer says what was sealed, and which column; None if none.

    Give it a depot whose chain was found to be as sealed.
    """
    return min(_faults(depot), default=None)


def _faults(depot: Depot) -> Iterator[tuple[int, str]]:
    records = Record.objects.filter(depot=depot)
    # A machine that went on to another depot is put right there: asked wherever it was sealed.
    corrected = set(Record.objects.filter(corrects__depot=depot).values_list("corrects", flat=True))
    roots = _roots(depot)
    accepted = {
        json.loads(content)["data"].get("figure")
        for content in Record.objects.filter(
            _of_its_machines(depot), kind=Record.Kind.DECISION, content__contains='"figure":'
        ).values_list("content", flat=True)
    }
    for model, copy in COPIES.items():
        name = str(model._meta.verbose_name)
        for row in _rows(model, depot):
            try:
                wrong = _wrong(
                    model, copy, row, corrected=corrected, roots=roots, accepted=accepted
                )
            except (ValueError, KeyError, TypeError, AttributeError, ArithmeticError):
                yield row["record__seq"], f"its {name} cannot be read"
                continue
            if wrong:
                yield row["record__seq"], f"the {wrong} of its {name} is not what was sealed"
        if copy.kind is not None:
            related = model._meta.get_field("record").remote_field.related_name  # type: ignore[union-attr]
            lost = records.filter(kind=copy.kind, **{f"{related}__isnull": True}).order_by("seq")
            for seq in lost.values_list("seq", flat=True)[:1]:
                yield seq, f"its {name} is missing"
    yield from _stops(depot)
    yield from _ended(depot)


def _rows(model: type[Model], depot: Depot) -> Iterator[dict[str, Any]]:
    own = [each.attname for each in model._meta.concrete_fields]
    also = ["meter__offset_tenths"] if model is MeterReading else []
    found = model._default_manager.filter(record__depot=depot).order_by()
    yield from found.values(
        *own, *also, "record__seq", "record__content", "record__happened_at", "record__kind"
    ).iterator(chunk_size=BLOCK)


def _roots(depot: Depot) -> dict[Any, datetime]:
    """The moment of what a correction puts right, by the correction: the new row stands there."""
    found = Record.objects.filter(_of_its_machines(depot), corrects__isnull=False)
    links = {
        pk: (corrects, at)
        for pk, corrects, at in found.values_list("pk", "corrects", "corrects__happened_at")
    }
    roots: dict[Any, datetime] = {}
    for pk, (corrects, at) in links.items():
        seen = {pk}
        while corrects in links and corrects not in seen:
            seen.add(corrects)
            corrects, at = links[corrects]
        roots[pk] = at
    return roots


def _of_its_machines(depot: Depot) -> Q:
    """Records of the depot, and of any machine that has one there, wherever they were sealed."""
    here = Record.objects.filter(depot=depot, machine__isnull=False).values("machine")
    return Q(depot=depot) | Q(machine__in=here)


def _wrong(
    model: type[Model],
    copy: Copy,
    row: dict[str, Any],
    *,
    corrected: set[Any],
    roots: Mapping[Any, datetime],
    accepted: set[Any],
) -> str:
    """The first column that is not what was sealed; empty when all are."""
    data = json.loads(row["record__content"])["data"]
    if copy.at and moment(row[copy.at]) != moment(
        roots.get(row["record_id"], row["record__happened_at"])
    ):
        return copy.at
    if model is StockMove:
        row["pieces"] = abs(row["change"])
        counts = [int(each["quantity"]) for each in data.get("counts", ())]
        if row["counted"] is not None and counts and row["counted"] not in counts:
            return "counted"
    for column, said in copy.columns.items():
        wanted = said(data)
        if wanted is not ANY and _plain(row[column]) != wanted:
            return "change" if column == "pieces" else column
    if "stands" in row and row["stands"] == (row["record_id"] in corrected):
        return "stands"
    if "struck_by_id" in row and (row["struck_by_id"] is None) == (row["record_id"] in corrected):
        return "struck_by"
    if model is MeterReading:
        total = max(row["dial_tenths"] + row["meter__offset_tenths"], 0)
        if row["total_tenths"] != total:
            return "total_tenths"
        asked = data.get("questioned", "")[:200]
        is_accepted = str(row["record_id"]) in accepted
        if row["questioned"] != ("" if is_accepted else asked):
            return "questioned"
    return ""


def _plain(value: object) -> object:
    """A column as its record would write it."""
    if isinstance(value, float):
        return units.decimal_string(value)
    if isinstance(value, date):
        return value.isoformat()
    return value


def _stops(depot: Depot) -> Iterator[tuple[int, str]]:
    """A stop is raised, decided on and freed by records; nothing else ends it or takes it away."""
    records = Record.objects.filter(depot=depot)
    decided: dict[tuple[str, str], tuple[Any, Data]] = {}
    for pk, data in _data(records.filter(kind=Record.Kind.DECISION, content__contains='"stop":')):
        decided[data["stop"], data.get("item", "")] = pk, data
    freed: dict[str, Any] = {}
    for pk, data in _data(records.filter(kind=Record.Kind.RELEASE)):
        freed |= dict.fromkeys(data["frees"], pk)
    rows = Stop.objects.filter(record__depot=depot).values_list(
        "pk", "record", "record__seq", "item_key", "kind", "until", "decided_by", "released_by",
        "decided_by__depot", "released_by__depot",
    )  # fmt: skip
    for pk, record, seq, item, kind, until, by, released, by_depot, free_depot in rows.iterator():
        last, data = decided.get((str(record), item), (None, {}))
        # What was decided or freed after the machine went on to another depot stands there.
        if by_depot in (None, depot.pk) and by != last:
            yield seq, "the decision on its stop is not what was sealed"
        elif last is not None and by == last:
            carries_on = data["decision"] == "carry on"
            if (kind == Stop.Kind.CARRY_ON) != carries_on or _plain(until) != data["until"]:
                yield seq, "the kind or the last day of its stop is not what was sealed"
        if free_depot in (None, depot.pk) and released != freed.get(str(pk)):
            yield seq, "the release of its stop is not what was sealed"
    raised = records.filter(stops_made__isnull=True).order_by("seq")
    for kinds, word in (
        ((Record.Kind.STOP,), ""),
        ((Record.Kind.CHECK, Record.Kind.INSPECTION), '"mark":"stop"'),
        ((Record.Kind.TEST,), '"passed":false,"readings"'),
    ):
        lost = raised.filter(kind__in=kinds, content__contains=word)
        for seq in lost.values_list("seq", flat=True)[:1]:
            yield seq, "its stop is missing"


def _ended(depot: Depot) -> Iterator[tuple[int, str]]:
    """A competence ends by a record that names the one that gave it, and in no other way."""
    ended: dict[str, Any] = {}
    records = Record.objects.filter(depot=depot, kind=Record.Kind.COMPETENCE)
    for pk, data in _data(records.filter(content__contains='"move":"ended"')):
        ended[data["number"]] = pk
    rows = Competence.objects.filter(record__depot=depot).values_list(
        "record__seq", "ended_on", "end_record", "end_record__happened_at"
    )
    for seq, on, record, at in rows.iterator():
        by = ended.get(f"{depot.code.upper()}-{seq}")
        if record != by or on != (depot.day_of(at) if at else None):
            yield seq, "the end of its competence is not what was sealed"


def _data(records: Any) -> Iterable[tuple[Any, Data]]:
    for pk, content in records.order_by("seq").values_list("pk", "content").iterator():
        yield pk, json.loads(content)["data"]
