"""The columns of a spreadsheet of machines: how they are headed, and what each cell means."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches
from typing import Any

from plant.columns import (
    Column,
    Columns,
    DateOrder,
    day_words,
    fold,
    looks_rounded,
    short,
    shortened,
)
from plant.drives import marks
from plant.drives.errors import DriveError
from plant.drives.sections import System
from plant.text import TextRefused, clean, number_key
from plant.units import (
    HOURS,
    LENGTH,
    MASS,
    POWER,
    SPEED,
    NotAccepted,
    Typed,
    from_si,
    read,
    show,
    tenths_of_hour,
)

MOST_WORDS_ASKED = 30
MOST_EXAMPLES = 3
FIRST_YEAR = 1950


COLUMNS = (
    Column("number", "Machine number", (
        "number", "no", "nr", "machine", "machine no", "asset", "asset number", "asset no",
        "asset id", "plant number", "plant no", "fleet number", "fleet no", "id", "code",
    )),
    Column("kind", "Kind", ("machine kind", "category", "description", "what", "equipment")),
    Column("depot", "Depot", ("depot code", "yard", "branch")),
    Column("nickname", "Nickname", ("known as", "called", "name", "machine name")),
    Column("maker", "Maker", ("make", "manufacturer", "made by", "brand")),
    Column("type", "Type", ("model", "type name", "model number", "model no", "maker type")),
    Column("serial", "Serial number", ("serial", "serial no", "s n", "sn", "ser no")),
    Column("year", "Year made", ("year", "made", "year of make", "built", "year built")),
    Column("supply", "Supply", (
        "power supply", "volts", "voltage", "fuel", "driven by", "power source", "energy",
    )),
    Column("class", "Class", ("protection", "protection class", "electrical class", "class i ii")),
    Column("power", "Power", ("rated power", "motor power", "rating", "output"), POWER, "power"),
    Column("speed", "Speed", ("rpm", "rated speed", "revs"), SPEED),
    Column("mass", "Mass", ("weight",), MASS, "mass"),
    Column("place", "Place", ("where", "location", "where it is")),
    Column("site", "Site", ("where it is out", "site name", "job site", "out at")),
    Column("meter", "Meter", (
        "hours", "meter hours", "meter reading", "running hours", "hour meter", "hours run",
        "meter figure",
    ), HOURS),
    Column("starts", "Starts", ("start counter", "starts counted", "number of starts")),
    Column("strokes", "Strokes", ("stroke counter", "strokes counted", "number of strokes")),
    Column("drops", "Drops", ("drop counter", "drops counted", "number of drops")),
    Column("lifts", "Lifts", ("lift counter", "lifts counted", "number of lifts")),
    Column("cycles", "Cycles", ("cycle counter", "cycles counted", "number of cycles")),
    Column("meter_on", "Meter read on", (
        "meter date", "date of reading", "reading date", "date read", "hours on", "meter read",
    )),
    Column("note", "Note", ("notes", "remarks", "remark", "comment", "comments")),
    Column("driver", "Motor pulley", (
        "driver pulley", "driver", "small pulley", "driver pulley diameter",
        "motor pulley diameter",
    ), LENGTH, "length"),
    Column("driven", "Driven pulley", (
        "driven", "large pulley", "driven pulley diameter",
    ), LENGTH, "length"),
    Column("belt_mark", "Belt mark", ("belt", "belt no", "belt number", "belt code", "belt size")),
    Column("centres", "Centre distance", (
        "centres", "centre to centre", "shaft centres", "center distance",
    ), LENGTH, "length"),
    Column("slot_in", "Slot inwards", ("slot in", "room inwards"), LENGTH, "length"),
    Column("slot_out", "Slot outwards", (
        "slot out", "room outwards", "take up left", "slot left",
    ), LENGTH, "length"),
    Column("motor_speed", "Motor speed", ("motor rpm", "speed of motor"), SPEED),
    Column("belt_fitted_on", "Belt fitted on", ("belt fitted", "belt date", "date belt fitted")),
)  # fmt: skip
TABLE = Columns(COLUMNS)
BY_FIELD = TABLE.by_field

# What people call a supply. Common practice, no source; 240 V and 415 V are the older names of
# the 230 V and 400 V supplies (BS 7671 and IEC 60038 give the newer).
_SUPPLIES: dict[str, tuple[str, ...]] = {
    "e230": ("230v", "230", "240v", "240", "230vsinglephase", "singlephase", "230vac", "1phase"),
    "e110": ("110v", "110", "110vcentretapped", "110vcte", "110vac", "115v", "centretapped"),
    "e400": ("400v", "400", "415v", "415", "400vthreephase", "threephase", "3phase", "3ph"),
    "petrol": ("petrol", "petrolengine", "gasoline", "unleaded"),
    "diesel": ("diesel", "dieselengine", "derv", "gasoil"),
    "gas": ("gas", "lpgas", "lpg", "propane"),
    "oil": ("oil", "oilfired", "paraffin", "kerosene"),
    "air": ("air", "compressedair", "pneumatic"),
    "hydraulic": ("hydraulic", "hydraulics"),
    "battery": ("battery", "cordless"),
}
_SUPPLY_OF = {word: key for key, words in _SUPPLIES.items() for word in words}
_PLACES = {
    "yard": ("yard", "inyard", "depot", "indepot", "store", "instore"),
    "workshop": ("workshop", "inworkshop", "inrepair"),
    "out": ("out", "onsite", "onhire", "hired", "outonhire", "site"),
    "laid up": ("laidup", "layup"),
    "missing": ("missing", "lost", "stolen"),
}
_PLACE_OF = {word: key for key, words in _PLACES.items() for word in words}
_GONE = ("gone", "sold", "scrapped", "scrap", "disposed", "writtenoff")
_CLASSES = {
    "I": ("i", "1", "classi", "class1", "earthed"),
    "II": ("ii", "2", "classii", "class2", "doubleinsulated"),
    "III": ("iii", "3", "classiii", "class3"),
}
_CLASS_OF = {word: key for key, words in _CLASSES.items() for word in words}
# What a machine may count beside its hours, and how far a counter goes.
COUNTS = ("starts", "strokes", "drops", "lifts", "cycles")
HIGHEST_COUNT = 99_999_999
_LONGEST = {"nickname": 80, "maker": 80, "type": 80, "serial": 80, "site": 120, "note": 2000}
# Above these the figure is questioned. Common practice, no source: small site plant is far below.
QUESTIONED = {"power": 75_000.0, "mass": 5_000.0}


@dataclass(frozen=True, slots=True)
class KindWords:
    """A machine kind as a file may name it."""

    key: str
    name: str
    supplies: tuple[str, ...]
    belt_driven: bool


@dataclass(frozen=True, slots=True)
class DepotWords:
    """A depot into which this person may bring machines."""

    pk: int
    code: str
    name: str
    system: System


@dataclass(slots=True)
class Facts:
    """What one row says.

    typed: field to the text of its cell; values: what is to be kept, in SI units and our keys;
    shown: field to the figure in our own unit, where another was typed; notes: what we made of it
    and say; asks: what has to be answered first; faults: what cannot be read.
    """

    row: int
    typed: dict[str, str] = field(default_factory=dict)
    values: dict[str, Any] = field(default_factory=dict)
    shown: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    asks: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


class RowReader:
    """Reads the rows of one file, and gathers what has to be asked once for all of them.

    questions: subject to what is asked. "dates": {"examples", "seems": "day", "month" or ""};
    "units": {"power": examples, ...}; "kind" and "supply": {folded word: {"typed", "rows",
    "nearest": keys}}; "large": examples. Answers have the same subjects: "dates": "day" or
    "month"; "units": {"power": symbol}; "kind", "supply": {folded word: key}; "large": "right".
    """

    def __init__(
        self,
        *,
        headings: Sequence[str],
        columns: Mapping[str, str],
        answers: Mapping[str, Any],
        kinds: Iterable[KindWords],
        depots: Iterable[DepotWords],
        depot: DepotWords,
        today: date,
    ) -> None:
        self.questions: dict[str, Any] = {}
        self._answers = answers
        self._heads = {columns[one]: one for one in headings if columns.get(one) in BY_FIELD}
        self._units = {
            name: TABLE.unit_in(heading, BY_FIELD[name]) for name, heading in self._heads.items()
        }
        self._places = {
            columns[one]: at for at, one in enumerate(headings) if columns.get(one) in BY_FIELD
        }
        self._kinds = tuple(kinds)
        self._kind_of = {fold(word): kind for kind in self._kinds for word in (kind.key, kind.name)}
        self._depot = depot
        self._depots = tuple(depots)
        self._depot_of = {fold(word): one for one in self._depots for word in (one.name, one.code)}
        self._today = today
        self._belts: dict[tuple[str, str], tuple[dict[str, Any], str]] = {}
        self._order = DateOrder(str(answers.get("dates", "")), most_examples=MOST_EXAMPLES)

    def row(self, number: int, cells: Sequence[str]) -> Facts:
        """What the row says, cell by cell; nothing is raised, all is told in the facts."""
        facts = Facts(row=number)
        for name, at in self._places.items():
            cell = cells[at].strip()
            if cell:
                facts.typed[name] = cell
        self._number(facts)
        depot = self._depot_named(facts)
        self._supply_and_kind(facts)
        self._words(facts)
        self._class(facts)
        self._place(facts)
        self._year(facts)
        self._figures(facts)
        self._drive(facts, depot or self._depot)
        return facts

    # What each group of cells means

    def _number(self, facts: Facts) -> None:
        typed = facts.typed.get("number", "")
        if not typed:
            facts.faults.append(f"{self._head('number')}: there is no machine number.")
            return
        if looks_rounded(typed):
            facts.faults.append(
                f"{self._head('number')}: {typed[:40]} was rounded by a spreadsheet. "
                "Type the number as text."
            )
            return
        try:
            facts.values["number_key"] = number_key(typed)
            facts.values["number"] = typed
        except TextRefused as wrong:
            facts.faults.append(f"{self._head('number')}: {wrong}")

    def _depot_named(self, facts: Facts) -> DepotWords | None:
        typed = facts.typed.get("depot", "")
        found = self._depot_of.get(fold(typed)) if typed else self._depot
        if found is None:
            codes = ", ".join(one.code for one in self._depots)
            facts.asks.append(
                f"{self._head('depot')}: {short(typed)} is no depot into which you may bring "
                f"machines. Write one of: {codes}."
            )
            return None
        facts.values["depot"] = found.pk
        return found

    def _supply_and_kind(self, facts: Facts) -> None:
        typed = facts.typed.get("supply", "")
        folded = fold(typed)
        known = _SUPPLY_OF.get(folded)
        supply = known or self._answer("supply", folded)
        kind = self._kind(facts, supply)
        if not typed and kind and len(kind.supplies) == 1:
            supply = kind.supplies[0]
            facts.notes.append(f"{self._head('supply')}: taken from the kind.")
        elif known is None:
            self._ask_word("supply", typed, self._nearest_supplies)
            if not supply:
                facts.asks.append(
                    f"{self._head('supply')}: {short(typed)} is no supply that we know."
                    if typed
                    else f"{self._head('supply')}: there is none, and the kind has several."
                )
        if supply:
            facts.values["supply"] = supply
            if kind and kind.supplies and supply not in kind.supplies:
                facts.notes.append(f"{self._head('supply')}: unusual for this kind.")

    def _kind(self, facts: Facts, supply: str | None) -> KindWords | None:
        typed = facts.typed.get("kind", "")
        folded = fold(typed)
        found = self._kind_of.get(folded) if folded else None
        if found is None and folded:
            # "Cement mixer" alone: the supply may say which of its kinds it is.
            alike = [kind for kind in self._kinds if fold(kind.name.partition(",")[0]) == folded]
            fitting = [kind for kind in alike if supply in kind.supplies]
            if len(fitting) == 1:
                found = fitting[0]
                facts.notes.append(
                    f"{self._head('kind')}: taken as {found.name.lower()}, by its supply."
                )
        if found is None:
            answered = self._answer("kind", folded)
            found = next((kind for kind in self._kinds if kind.key == answered), None)
            nearest = self._ask_word("kind", typed, self._nearest_kinds)
            if found is None and typed:
                names = [kind.name for kind in self._kinds if kind.key in nearest]
                like = f" Nearest: {'; '.join(names)}." if names else ""
                facts.asks.append(
                    f"{self._head('kind')}: {short(typed)} is no kind that we know.{like}"
                )
            elif found is None:
                facts.asks.append(f"{self._head('kind')}: there is none.")
        if found is not None:
            facts.values["kind"] = found.key
        return found

    def _nearest_kinds(self, typed: str) -> list[str]:
        names = {kind.name.lower(): kind.key for kind in self._kinds}
        words = set(re.findall(r"[a-z]{4,}", typed.lower()))
        sharing = [name for name in names if words & set(re.findall(r"[a-z]{4,}", name))]
        close = get_close_matches(typed.lower(), names, n=3, cutoff=0.5)
        return [names[name] for name in dict.fromkeys([*sharing, *close])][:3]

    def _nearest_supplies(self, typed: str) -> list[str]:
        close = get_close_matches(fold(typed), _SUPPLY_OF, n=3, cutoff=0.5)
        return list(dict.fromkeys(_SUPPLY_OF[word] for word in close))

    def _words(self, facts: Facts) -> None:
        for name, high in _LONGEST.items():
            typed = facts.typed.get(name, "")
            if not typed:
                continue
            if name == "serial" and looks_rounded(typed):
                facts.faults.append(
                    f"{self._head(name)}: {typed[:40]} was rounded by a spreadsheet. "
                    "Type the number from the plate as text."
                )
                continue
            try:
                facts.values[name] = clean(typed, high=high, lines=name == "note")
            except TextRefused as wrong:
                facts.faults.append(f"{self._head(name)}: {wrong}")
            if name == "serial" and re.fullmatch(r"[0-9]{13,}0{2,}", typed):
                facts.notes.append(
                    f"{self._head(name)}: a spreadsheet may have lost its last figures. "
                    "Compare it with the plate."
                )

    def _class(self, facts: Facts) -> None:
        typed = facts.typed.get("class", "")
        if not typed:
            return
        found = _CLASS_OF.get(fold(typed))
        if found is None:
            facts.faults.append(f"{self._head('class')}: {short(typed)}. Write I, II or III.")
        else:
            facts.values["protection"] = found

    def _place(self, facts: Facts) -> None:
        typed = facts.typed.get("place", "")
        folded = fold(typed)
        if folded in _GONE:
            facts.faults.append(
                f"{self._head('place')}: the machine is gone. Take the row out of the file."
            )
        elif folded in _PLACE_OF:
            facts.values["place"] = _PLACE_OF[folded]
        elif typed:
            facts.faults.append(
                f"{self._head('place')}: {short(typed)} is no place that we know. "
                "Write yard, workshop, out, laid up or missing."
            )
        elif "site" in facts.values:
            facts.values["place"] = "out"
            facts.notes.append(f"{self._head('place')}: taken as out, since a site is given.")
        if "site" in facts.values and facts.values.get("place") != "out":
            facts.notes.append(f"{self._head('site')}: kept in the note, since it is not out.")
            words = f"Site in the file: {facts.values.pop('site')}"
            facts.values["note"] = f"{facts.values.get('note', '')}\n{words}".strip()[:2000]

    def _year(self, facts: Facts) -> None:
        typed = facts.typed.get("year", "")
        if not typed:
            return
        found = re.fullmatch(r"(?:.*[^0-9])?([0-9]{4})(?:-[0-9]{2}-[0-9]{2}.*)?", typed)
        year = int(found[1]) if found else 0
        if not FIRST_YEAR <= year <= self._today.year + 1:
            facts.faults.append(
                f"{self._head('year')}: {short(typed)}. "
                f"Write a year from {FIRST_YEAR} to {self._today.year + 1}."
            )
        else:
            facts.values["year"] = year

    def _figures(self, facts: Facts) -> None:
        kept: dict[str, str] = {}
        for name, key in (("power", "power_w"), ("mass", "mass_kg"), ("speed", "speed_rpm")):
            figure = self._figure(facts, name)
            if figure is None:
                continue
            facts.values[key] = _rpm(figure) if name == "speed" else figure.value_si
            kept[name] = _with_unit(figure)
            if figure.value_si > QUESTIONED.get(name, float("inf")):
                examples = self.questions.setdefault("large", [])
                if len(examples) < MOST_EXAMPLES:
                    examples.append(f"{kept[name]} in row {facts.row}")
                if self._answers.get("large") != "right":
                    facts.asks.append(f"{self._head(name)}: {kept[name]} is far above the usual.")
        meter = self._figure(facts, "meter")
        if meter is not None:
            facts.values["hours_tenths"] = tenths_of_hour(meter.value_si)
            kept["meter"] = _with_unit(meter)
        counts = {name: found for name in COUNTS if (found := self._count(facts, name)) is not None}
        if counts:
            facts.values["counts"] = counts
        read_on = self._date(facts, "meter_on")
        if read_on and (meter is not None or counts):
            facts.values["hours_on"] = read_on.isoformat()
        if kept:
            facts.values["plate_typed"] = kept

    def _drive(self, facts: Facts, depot: DepotWords) -> None:
        drive: dict[str, Any] = {}
        entries: dict[str, dict[str, str]] = {}
        for name in ("driver", "driven", "centres", "slot_in", "slot_out"):
            figure = self._figure(facts, name)
            if figure is None:
                continue
            if figure.value_si == 0 and not name.startswith("slot"):
                facts.faults.append(f"{self._head(name)}: it has to be more than nought.")
                continue
            drive[f"{name}_m"] = figure.value_si
            entries[f"{name}_m"] = _entry(_with_unit(figure))
        typed = facts.typed.get("belt_mark", "")
        if typed:
            try:
                mark = clean(typed, high=marks.MOST_CHARACTERS, lines=False)
                drive["belt_mark"] = mark
                entries["belt_mark"] = _entry(mark)
                belt, note = self._belt(mark, depot.system)
                drive |= belt
                if "belt_datum_m" in belt:
                    # It stands on the belt itself, as a figure stands on a plate.
                    entries["belt_datum_m"] = {"typed": mark, "mark": "plate", "tool": ""}
                if note:
                    facts.notes.append(f"{self._head('belt_mark')}: {note}")
            except TextRefused as wrong:
                facts.faults.append(f"{self._head('belt_mark')}: {wrong}")
        fitted = self._date(facts, "belt_fitted_on")
        motor = self._figure(facts, "motor_speed")
        if motor is not None:
            facts.values.setdefault("speed_rpm", _rpm(motor))
        if not drive:
            return
        if fitted:
            drive["belt_fitted_on"] = fitted.isoformat()
        speed = _rpm(motor) if motor is not None else facts.values.get("speed_rpm")
        for name, value in (
            ("motor_speed_rpm", speed), ("motor_power_w", facts.values.get("power_w"))
        ):  # fmt: skip
            if value:
                drive[name] = value
        facts.values["drive"] = drive | {"entries": entries}

    def _belt(self, mark: str, system: System) -> tuple[dict[str, Any], str]:
        """Section and datum length of the mark when it says both, else why they stay open."""
        key = (mark, str(system))
        if key not in self._belts:
            self._belts[key] = _belt_of(mark, system)
        return self._belts[key]

    # One cell

    def _figure(self, facts: Facts, name: str) -> Typed | None:
        column = BY_FIELD[name]
        typed = facts.typed.get(name, "")
        if not typed or column.measure is None:
            return None
        measure = column.measure
        text, rounded = shortened(typed)
        if re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?", text):
            unit = self._units[name] or self._unit_asked(facts, name, typed)
            if unit is None:
                return None
            text = f"{text} {unit}".strip()
        try:
            figure = read(text, measure)
        except NotAccepted as wrong:
            facts.faults.append(f"{self._head(name)}: {short(typed)}. {wrong}")
            return None
        if rounded:
            # What was worked out to many decimals is rounded to what the measure shows.
            text = show(figure.value_si, measure, unit=figure.unit)
            figure = read(text, measure)
            facts.notes.append(f"{self._head(name)}: {short(typed)} rounded to {text}.")
        if figure.unit != measure.unit:
            facts.shown[name] = show(figure.value_si, measure)
        return figure

    def _count(self, facts: Facts, name: str) -> int | None:
        """A whole number, as a counter shows it; what it counts may stand beside it."""
        typed = facts.typed.get(name, "")
        if not typed:
            return None
        text, _ = shortened(typed)
        found = re.fullmatch(
            rf"([0-9]{{1,12}})(?:\.0+)?(?: *{name})?", text, re.ASCII | re.IGNORECASE
        )
        if found is None or int(found[1]) > HIGHEST_COUNT:
            facts.faults.append(
                f"{self._head(name)}: {short(typed)}. Write a whole number of {name}, "
                f"0 to {HIGHEST_COUNT:_}.".replace("_", " ")
            )
            return None
        return int(found[1])

    def _unit_asked(self, facts: Facts, name: str, typed: str) -> str | None:
        """The unit of a plain number: the own one, what was answered, or None: ask first."""
        column = BY_FIELD[name]
        if not column.asked:
            return ""
        examples = self.questions.setdefault("units", {}).setdefault(column.asked, [])
        if len(examples) < MOST_EXAMPLES and typed not in examples:
            examples.append(typed)
        answered = self._answers.get("units", {}).get(column.asked)
        if answered and column.measure and answered in column.measure.symbols:
            return str(answered)
        facts.asks.append(f"{self._head(name)}: {short(typed)} has no unit.")
        return None

    def _date(self, facts: Facts, name: str) -> date | None:
        typed = facts.typed.get(name, "")
        if not typed:
            return None
        found, why = self._order.read(typed)
        if found is None:
            none = f"{short(typed)} is no date. Write for example 2026-03-04."
            (facts.asks if why else facts.faults).append(f"{self._head(name)}: {why or none}")
            return None
        if not date(2000, 1, 1) <= found <= self._today:
            facts.faults.append(
                f"{self._head(name)}: {day_words(found)} is not between 1 Jan 2000 and today."
            )
            return None
        return found

    def finished(self) -> dict[str, Any]:
        """The questions, once every row has been read."""
        if asked := self._order.finished():
            self.questions["dates"] = asked
        return self.questions

    # What is asked

    def _answer(self, subject: str, folded: str) -> str | None:
        answered = self._answers.get(subject, {}).get(folded)
        return str(answered) if answered else None

    def _ask_word(
        self, subject: str, typed: str, nearest: Callable[[str], list[str]]
    ) -> Sequence[str]:
        """Asks for a word once, however many rows hold it; gives what comes nearest to it."""
        words = self.questions.setdefault(subject, {})
        folded = fold(typed)
        if folded in words:
            words[folded]["rows"] += 1
        elif len(words) < MOST_WORDS_ASKED:
            words[folded] = {"typed": short(typed), "rows": 1, "nearest": nearest(typed)}
        else:
            return ()
        kept: Sequence[str] = words[folded]["nearest"]
        return kept

    def _head(self, name: str) -> str:
        """The column as the file calls it, or our own name when the file does not have it."""
        return short(self._heads.get(name, BY_FIELD[name].name))


def _belt_of(mark: str, system: System) -> tuple[dict[str, Any], str]:
    try:
        found = marks.read(mark, system=system)
    except (DriveError, ValueError):
        return {}, "kept as it stands; we can read no belt mark in it."
    if not found.agreed:
        sections = {one.section for one in found.readings}
        known = {"section": sections.pop()} if len(sections) == 1 else {}
        return known, "kept as it stands; it can be read in several ways. Settle it at the drive."
    one = found.readings[0]
    belt: dict[str, Any] = {"section": one.section, "length_system": str(one.system)}
    # Belts sized at the rim go by their effective length, as their pulleys by the outside.
    length = one.datum if one.effective is None else one.effective
    if length is not None:
        belt["belt_datum_m"] = length
    return belt, ""


def _with_unit(figure: Typed) -> str:
    """The figure as it was typed, with the unit that was meant."""
    text = figure.text_as_typed
    return text if re.search(r"[A-Za-z:]", text) else f"{text} {figure.unit}"


def _rpm(figure: Typed) -> float:
    return float(f"{from_si(figure.value_si, SPEED, 'rpm'):.12g}")


def _entry(typed: str) -> dict[str, str]:
    """Nobody says how a figure in a file was come by, so it counts as a guess until measured."""
    return {"typed": typed, "mark": "guess", "tool": ""}
