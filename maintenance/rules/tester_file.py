"""A file of an electrical test instrument: what each of its rows means."""

import hashlib
import json
import re
import uuid
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from maintenance.rules.electrical import NO_TRIP, RCD_TYPES, Asked, Form, RcdProfile
from maintenance.rules.sheet import RuleSheet
from maintenance.rules.tester_columns import (
    BY_EYE,
    DID_NOT_TRIP,
    ITEM_OF,
    LACKS,
    READING,
    RIGHT,
    WRONG,
    measure_of,
)
from maintenance.rules.words import list_text
from plant import units
from plant.columns import Column, Columns, DateOrder, day_words, fold, looks_rounded, short
from plant.columns import shortened as at_most_six_decimals
from plant.text import TextRefused, clean, number_key
from plant.translate import gettext as _

MOST_EXAMPLES = 3
MOST_WORDS_ASKED = 30
FIRST_DAY = date(2000, 1, 1)
HELD = f"({NO_TRIP})"
"""After a time beyond the instrument's range, which means that the device did not trip."""
_PLAIN = re.compile(r"[<>]? ?[+-]?[0-9]+(\.[0-9]+)?")
_CLOCK = r"([0-9]{1,2}):([0-9]{2})(?::[0-9]{2})?(?: ?([ap])\.?m\.?)?"


@dataclass(frozen=True, kw_only=True)
class Tested:
    """A machine that a row can be of; last: by form, what its last test said of lead and device."""

    family: str
    supply: str
    protection: str
    power_w: float | None
    last: Mapping[str, Mapping[str, str]]


@dataclass(frozen=True, kw_only=True)
class InstrumentWords:
    """An instrument as a file may name it."""

    pk: int
    name: str
    serial: str


@dataclass(kw_only=True)
class Facts:
    """What one row says.

    typed: field to the text of its cell; at: when, at noon unless timed; day: its day where it was
    made; timed: whether the file gave the hour; readings: by key, each as it is sealed; lead:
    length and core in mm2; device: standard's key, rated current and type; said: the instrument's
    own word, said_passed: what it means, if anything; of_file: what the file itself says, for the
    identity of the row.
    Then what is told: notes, what has to be answered, what cannot be read or is missing, and why
    the form is not clear.
    """

    row: int
    typed: dict[str, str] = field(default_factory=dict)
    at: datetime | None = None
    day: date | None = None
    timed: bool = False
    form: Form | None = None
    readings: dict[str, str] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    lead: tuple[str, float] | None = None
    device: tuple[str, str, str] | None = None
    item_serial: str = ""
    instrument: int | None = None
    note: str = ""
    said: str = ""
    said_passed: bool | None = None
    of_file: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    asks: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    unclear: list[str] = field(default_factory=list)

    def identity(self, *, machine: str) -> uuid.UUID:
        """The number of the record that this row becomes: the same content, the same number.

        It rests on what the file says, in SI units: not on answers, nor on what was taken from an
        earlier test, so that the same file brought in later says the same. RFC 9562, version 8.
        """
        assert self.form is not None
        assert self.at is not None
        assert self.day is not None
        moment = self.at.astimezone(UTC).isoformat() if self.timed else str(self.day)
        content = [machine, self.form.key, moment, self.of_file]
        text = json.dumps(content, sort_keys=True, separators=(",", ":"))
        found = int.from_bytes(hashlib.sha256(text.encode()).digest()[:16])
        found &= ~((0xF << 76) | (0x3 << 62))
        return uuid.UUID(int=found | (0x8 << 76) | (0x2 << 62))


class RowReader:
    """Reads the rows of one file, and gathers what has to be asked once for all of them.

    questions, and answers, by subject: "dates": order; "day": the day of rows that have none;
    "units": {field: examples, symbol}; "instrument", "item", "profile": {folded word: what};
    "look", "confirm": {key: words, "right"}.
    """

    def __init__(
        self,
        *,
        columns: Columns,
        headings: Sequence[str],
        matched: Mapping[str, str],
        answers: Mapping[str, Any],
        sheet_on: Callable[[date], RuleSheet | None],
        instruments: Iterable[InstrumentWords],
        zone: ZoneInfo,
        now: datetime,
    ) -> None:
        self.questions: dict[str, Any] = {}
        self._answers = answers
        known = columns.by_field
        self._columns = known
        self._places = {matched[one]: at for at, one in enumerate(headings) if matched.get(one)}
        self._places = {name: at for name, at in self._places.items() if name in known}
        self._units = {
            name: columns.unit_in(headings[at], known[name]) for name, at in self._places.items()
        }
        self._heads = {name: headings[at] for name, at in self._places.items()}
        self._sheet_on = sheet_on
        instruments = tuple(instruments)
        # Two testers of one model share a name; then only the serial says which it was.
        names = Counter(fold(each.name) for each in instruments)
        self._instruments = {
            fold(each.name): each.pk for each in instruments if names[fold(each.name)] == 1
        }
        self._instruments |= {fold(each.serial): each.pk for each in instruments}
        self._zone, self._now = zone, now
        self._order = DateOrder(str(answers.get("dates", "")), most_examples=MOST_EXAMPLES)

    def key_of(self, cells: Sequence[str]) -> str:
        """The machine's number as the register compares it; empty where there is none."""
        at = self._places.get("number")
        try:
            return number_key(cells[at]) if at is not None else ""
        except TextRefused:
            return ""

    def row(self, number: int, cells: Sequence[str], tested: Tested | None) -> Facts:
        """What the row says; nothing is raised, all is told in the facts."""
        facts = Facts(row=number)
        for name, at in self._places.items():
            if cell := cells[at].strip():
                facts.typed[name] = cell
        self._number(facts)
        self._moment(facts)
        self._words(facts)
        if tested is None:
            return facts
        self._ask_units(facts)
        facts.instrument = self._instrument(facts)
        # Without its day a row waits; what else it asks is asked at once, by today's sheet.
        sheet = self._sheet_on(facts.day or self._now.astimezone(self._zone).date())
        facts.form = self._form(facts, tested, sheet)
        if facts.form is None or sheet is None:
            return facts
        device = self._device(facts, facts.form, tested, sheet)
        self._lead(facts, facts.form, tested, sheet)
        for asked in facts.form.asked:
            self._reading(facts, asked, device)
        self._left_out(facts, facts.form)
        return facts

    def finished(self) -> dict[str, Any]:
        """The questions, once every row has been read."""
        if asked := self._order.finished():
            self.questions["dates"] = asked
        return self.questions

    # Which machine, and when

    def _number(self, facts: Facts) -> None:
        typed = facts.typed.get("number", "")
        head = self._head("number")
        if not typed:
            facts.faults.append(_("{head}: there is no machine number.").format(head=head))
        elif looks_rounded(typed):
            facts.faults.append(
                _("{head}: {typed} was rounded by a spreadsheet. Type the number as text.").format(
                    head=head, typed=short(typed)
                )
            )
        else:
            try:
                number_key(typed)
            except TextRefused as wrong:
                facts.faults.append(f"{head}: {wrong}")

    def _moment(self, facts: Facts) -> None:
        typed, clock = facts.typed.get("on", ""), facts.typed.get("time", "")
        head = self._head("on")
        if found := re.fullmatch(rf"(.+?)(?:T| +)({_CLOCK})", typed, re.IGNORECASE):
            typed, clock = found[1], clock or found[2]
        if typed:
            day, why = self._order.read(typed)
            if day is None:
                none = _("{typed} is no date. Write for example 2026-03-04.").format(
                    typed=short(typed)
                )
                (facts.asks if why else facts.faults).append(f"{head}: {why or none}")
                return
        else:
            day = self._day_asked(facts)
            if day is None:
                return
        hour = _hour(clock) if clock else time(12)
        if hour is None:
            facts.faults.append(
                _("{head}: {clock} is no time of day.").format(
                    head=self._head("time"), clock=short(clock)
                )
            )
            return
        at = _aware(day, hour, self._zone)
        if at is None:
            facts.faults.append(
                _(
                    "{head}: at that hour the clocks change, so it is not clear when "
                    "it was. Enter this test by hand."
                ).format(head=head)
            )
            return
        facts.timed = bool(clock)
        if not facts.timed and day == self._now.astimezone(self._zone).date():
            at = min(at, self._now)
        if day < FIRST_DAY or at > self._now:
            when = day_words(day) + (f" {hour:%H:%M}" if clock else "")
            facts.faults.append(
                _("{head}: {when} is not between 1 Jan 2000 and now.").format(head=head, when=when)
            )
            return
        facts.at, facts.day = at, day

    def _day_asked(self, facts: Facts) -> date | None:
        self.questions["day"] = self.questions.get("day", 0) + 1
        answered = str(self._answers.get("day", ""))
        if not answered:
            facts.asks.append(
                _("{head}: on which day was it tested?").format(head=self._head("on"))
            )
            return None
        return date.fromisoformat(answered)

    def _words(self, facts: Facts) -> None:
        for name, high in (("note", 2000), ("said", 40), ("item_serial", 60)):
            typed = facts.typed.get(name, "")
            if typed:
                try:
                    setattr(facts, name, clean(typed, high=high, lines=name == "note"))
                except TextRefused as wrong:
                    facts.faults.append(f"{self._head(name)}: {wrong}")
        word = fold(facts.said)
        facts.said_passed = True if word in RIGHT else False if word in WRONG else None

    # Which test

    def _form(self, facts: Facts, tested: Tested, sheet: RuleSheet | None) -> Form | None:
        forms = (
            sheet.test_forms_for(
                family=tested.family, supply=tested.supply, protection=tested.protection,
                power_w=tested.power_w,
            )
            if sheet
            else ()
        )  # fmt: skip
        if not forms:
            facts.unclear.append(_("The rule sheet of that day has no electrical test for it."))
            return None
        typed = facts.typed.get("item", "")
        word = fold(typed)
        named = {fold(form.key): form.key for form in sheet.test_forms} if sheet else {}
        named |= {fold(form.name): form.key for form in sheet.test_forms} if sheet else {}
        wanted = named.get(word) or ITEM_OF.get(word)
        if typed and wanted is None:
            wanted = self._asked_word(
                facts, "item", typed, _("{typed} is no test we know.").format(typed=short(typed))
            )
            if wanted is None:
                return None
        found = [form for form in forms if not wanted or _is(form, wanted)]
        if not found:
            lacks = "" if tested.protection else _(" Its class is not on its plate.")
            facts.unclear.append(
                _("{head}: {typed} is no test of this machine.{lacks}").format(
                    head=self._head("item"), typed=short(typed) or "it", lacks=lacks
                )
            )
            return None
        best = _by_readings(found, {key for key in facts.typed if key.startswith(READING)})
        if len(best) > 1 and not typed:
            answer = self._asked_word(facts, "item", "", _("it is not clear which test it is."))
            if answer is None:
                return None
            best = [form for form in best if _is(form, answer)] or best
        if len(best) == 1:
            return best[0]
        names = list_text([form.name for form in best])
        facts.unclear.append(
            _("It may be of several tests: {names}. Name one in the file.").format(names=names)
        )
        return None

    def _instrument(self, facts: Facts) -> int | None:
        typed = facts.typed.get("instrument", "")
        found = self._instruments.get(fold(typed)) if typed else None
        if found is None:
            why = (
                _("{typed} is not one instrument in use at this depot.").format(typed=short(typed))
                if typed
                else _("which was it?")
            )
            answer = self._asked_word(facts, "instrument", typed, why)
            found = int(answer) if answer else None
        return found if found in self._instruments.values() else None

    def _device(
        self, facts: Facts, form: Form, tested: Tested, sheet: RuleSheet
    ) -> RcdProfile | None:
        if facts.item_serial and not form.has_serial:
            facts.item_serial = ""
        if facts.item_serial:
            facts.of_file["item_serial"] = facts.item_serial
        if not form.has_trips:
            return None
        last = tested.last.get(form.key, {})
        if facts.item_serial and last.get("item_serial", "") not in ("", facts.item_serial):
            last = {}  # another device than the last time
        devices = form.devices(sheet.rcd)
        typed = facts.typed.get("profile", "")
        key = _profile_named(typed, devices) if typed else last.get("profile")
        taken = not typed and key is not None
        if typed and key:
            facts.of_file["profile"] = key
        if key is None:
            why = (
                _("{typed} is no standard we know.").format(typed=short(typed))
                if typed
                else _("which is marked on it?")
            )
            key = self._asked_word(facts, "profile", typed, why)
        device = next((each for each in devices if each.key == key), None)
        rated = self._figure(facts, "rated_current") or last.get("rated_current", "")
        if not rated and "rated_current" not in facts.typed:
            facts.faults.append(f"{self._head('rated_current')}: missing.")
        kind = next(
            (each for each in RCD_TYPES if fold(each) == fold(facts.typed.get("rcd_type", ""))),
            last.get("rcd_type", RCD_TYPES[-1]),
        )
        if not facts.item_serial and last.get("item_serial"):
            facts.item_serial = last["item_serial"]
            taken = True
        if taken or (rated and "rated_current" not in facts.typed):
            facts.notes.append(_("Standard, rating or serial of the RCD: as at its last test."))
        if device is not None and rated:
            facts.device = (device.key, rated, kind)
        return device

    def _lead(self, facts: Facts, form: Form, tested: Tested, sheet: RuleSheet) -> None:
        if not form.has_earth or f"{READING}earth" not in facts.typed:
            return
        last = tested.last.get(form.key, {})
        length = self._figure(facts, "lead_length")
        if length is None and "lead_length" in facts.typed:
            return
        typed = facts.typed.get("lead_core", "")
        found = re.fullmatch(r"([0-9]{1,2}(?:\.[0-9]{1,2})?) ?(?:mm ?(?:2|²|\^2)|sqmm)?", typed)
        core = float(found[1]) if found else None
        sizes = sheet.earth.ohm_per_m
        if typed and core not in sizes:
            known = list_text([f"{size:g}" for size in sorted(sizes)])
            facts.faults.append(
                _("{head}: {typed}. Write one of {known}.").format(
                    head=self._head("lead_core"), typed=short(typed), known=known
                )
            )
            return
        if length is None and last.get("lead_length"):
            length = last["lead_length"]
            core = core or float(last["lead_core"])
            facts.notes.append(
                _("Lead: {length}, {core} mm2, as at its last test.").format(
                    length=length, core=f"{core:g}"
                )
            )
        elif length is not None and core is None:
            none = units.read(length, units.LEAD_LENGTH).value_si == 0
            core = min(sizes) if none else None
        if length is None or core is None:
            what = "length" if length is None else _("core size")
            facts.faults.append(
                _("Lead: its {what} is missing, and the earth path needs it.").format(what=what)
            )
            return
        if typed:
            facts.of_file["lead_core"] = f"{core:g}"
        facts.lead = (length, core)

    # One reading

    def _reading(self, facts: Facts, asked: Asked, device: RcdProfile | None) -> None:
        name = f"{READING}{asked.key}"
        if asked.kind == "confirm":
            self._answered(facts, "confirm", asked)
        elif asked.kind == "look":
            self._look(facts, asked, name)
        elif name not in facts.typed:
            facts.missing.append(asked.words)
        elif asked.kind == "trip" and fold(facts.typed[name]) in DID_NOT_TRIP:
            facts.readings[asked.key] = facts.of_file[name] = NO_TRIP
        elif (text := self._figure(facts, name)) is not None:
            beyond = asked.kind == "trip" and text[0] in "<>"
            if beyond and not (device and _did_not_trip(text, asked, device)):
                facts.faults.append(
                    _("{name}: {text} does not tell whether it tripped in time.").format(
                        name=self._head(name), text=text
                    )
                )
                return
            facts.readings[asked.key] = f"{text} {HELD}" if beyond else text

    def _look(self, facts: Facts, asked: Asked, name: str) -> None:
        typed = facts.typed.get(name, "")
        for_all = not typed and asked.key in BY_EYE and "looks" in facts.typed
        word = fold(facts.typed["looks"] if for_all else typed)
        if word in RIGHT or (word in LACKS and asked.may_lack):
            facts.readings[asked.key] = "right" if word in RIGHT else "none on it"
            facts.of_file[name] = facts.readings[asked.key]
        elif word in WRONG and not for_all:
            facts.readings[asked.key] = facts.of_file[name] = "not right"
        elif word in WRONG:
            told = _("{head}: the file does not say what was wrong. Enter it by hand.").format(
                head=self._head("looks")
            )
            if told not in facts.faults:
                facts.faults.append(told)
        elif word:
            head = self._head("looks" if for_all else name)
            facts.faults.append(
                _("{head}: {word} is no answer. Write right or wrong.").format(
                    head=head, word=short(word)
                )
            )
        else:
            self._answered(facts, "look", asked)

    def _answered(self, facts: Facts, subject: str, asked: Asked) -> None:
        """What is asked once for the whole file, in the words of the sheet."""
        self.questions.setdefault(subject, {})[asked.key] = asked.words
        if self._answers.get(subject, {}).get(asked.key) == "right":
            facts.readings[asked.key] = "right"
        else:
            facts.asks.append(_("Answer above: {asked}").format(asked=asked.words))

    def _left_out(self, facts: Facts, form: Form) -> None:
        known = {f"{READING}{asked.key}" for asked in form.asked}
        more = [
            self._head(name)
            for name in facts.typed
            if name.startswith(READING) and name not in known
        ]
        if more:
            facts.notes.append(
                _("Not asked by this test, left out: {more}.").format(more=list_text(more))
            )

    def _figure(self, facts: Facts, name: str) -> str | None:
        """The figure of a cell with its unit; None where there is none, or it was told why not."""
        column = self._columns[name]
        typed = facts.typed.get(name, "")
        if not typed or column.measure is None:
            return None
        text, cut = at_most_six_decimals(typed)
        if cut:
            facts.notes.append(
                _("{name}: {typed} cut to six decimals.").format(
                    name=self._head(name), typed=short(typed)
                )
            )
        if _PLAIN.fullmatch(text):
            unit = self._units[name] or self._unit_answered(column)
            if not unit:
                facts.asks.append(
                    _("{name}: {typed} has no unit.").format(
                        name=self._head(name), typed=short(typed)
                    )
                )
                return None
            text = f"{text} {unit}"
        try:
            figure = units.read_open(text, column.measure)
        except units.NotAccepted as wrong:
            facts.faults.append(f"{self._head(name)}: {short(typed)}. {wrong}")
            return None
        facts.of_file[name] = f"{figure.end}{units.decimal_string(figure.value_si)}"
        return figure.text_as_typed

    def _ask_units(self, facts: Facts) -> None:
        """Asks for each unit at once, also of rows that wait for another answer first."""
        for name, typed in facts.typed.items():
            column = self._columns[name]
            if column.asked and not self._units[name] and _PLAIN.fullmatch(typed):
                examples = self.questions.setdefault("units", {}).setdefault(column.asked, [])
                if len(examples) < MOST_EXAMPLES and typed not in examples:
                    examples.append(typed)

    def _unit_answered(self, column: Column) -> str:
        """The own unit where no other is likely, else what was answered; empty: ask first."""
        assert column.measure is not None
        if not column.asked:
            return column.measure.unit
        answered = self._answers.get("units", {}).get(column.asked)
        return str(answered) if answered in column.measure.symbols else ""

    # What is asked

    def _asked_word(self, facts: Facts, subject: str, typed: str, why: str) -> str | None:
        """Asks for a word once, however many rows hold it; what was answered, or None."""
        words, folded = self.questions.setdefault(subject, {}), fold(typed)
        if folded in words:
            words[folded]["rows"] += 1
        elif len(words) < MOST_WORDS_ASKED:
            words[folded] = {"typed": short(typed), "rows": 1}
        answered = self._answers.get(subject, {}).get(folded)
        if answered:
            return str(answered)
        facts.asks.append(f"{self._head(subject)}: {why}")
        return None

    def _head(self, name: str) -> str:
        """The column as the file calls it, or our own name when the file does not have it."""
        return short(self._heads.get(name, self._columns[name].name))


def _is(form: Form, wanted: str) -> bool:
    """Whether the form is the one named, or of the sort of thing named."""
    if wanted in (form.key, form.item):
        return True
    return wanted == "machine" and form.item != "rcd"


def _by_readings(forms: Sequence[Form], present: set[str]) -> list[Form]:
    """Of these the forms that the readings of a row belong to: whole ones first, largest first."""

    def figures(form: Form) -> set[str]:
        return {f"{READING}{each.key}" for each in form.asked if measure_of(each) is not None}

    if len(forms) == 1:
        return list(forms)
    whole = [form for form in forms if figures(form) <= present]
    rest = whole or [form for form in forms if figures(form) & present]
    most = max((len(figures(form) & present) for form in rest), default=0)
    return [form for form in rest if len(figures(form) & present) == most] or list(forms)


def _profile_named(typed: str, devices: Sequence[RcdProfile]) -> str | None:
    """The one standard that the words name, by its name, its key or its number."""
    word = fold(typed)
    for each in devices:
        if word in (fold(each.key), fold(each.name)):
            return each.key
    numbers = re.findall(r"[0-9]{4,5}", typed)
    alike = [each.key for each in devices if any(number in each.name for number in numbers)]
    return alike[0] if len(alike) == 1 else None


def _did_not_trip(text: str, asked: Asked, device: RcdProfile) -> bool:
    """Whether a time beyond the instrument's range tells that the device did not trip.

    Instruments show whole milliseconds, so more than 1999 ms is 2000 ms or more.
    """
    if text[0] != ">":
        return False
    beyond = units.from_si(units.read_open(text, units.TIME_MS).value_si, units.TIME_MS) + 1
    row = device.row(asked.factor or 0.0)
    return beyond >= (row.max_ms if row.must_trip else row.hold_ms or 0.0)  # type: ignore[operator]


def _hour(typed: str) -> time | None:
    found = re.fullmatch(_CLOCK, typed.strip(), re.IGNORECASE)
    if not found:
        return None
    hour, minute = int(found[1]), int(found[2])
    if half := (found[3] or "").lower():
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None


def _aware(day: date, hour: time, zone: ZoneInfo) -> datetime | None:
    """The moment; None where the clocks skip that hour, or it is there twice."""
    first, second = (datetime.combine(day, hour, tzinfo=zone).replace(fold=n) for n in (0, 1))
    return first if first.utcoffset() == second.utcoffset() else None
