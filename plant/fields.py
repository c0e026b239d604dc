"""Form fields that read a figure with its unit, as people type it, and words that can be kept."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import lazy
from django.utils.translation import gettext as _

from plant.length_words import IN, MM, UNITS, length_unit
from plant.text import TextRefused, clean
from plant.units import CLOCK, MOST_CHARACTERS, Measure, NotAccepted, Typed, led_by, read, read_open

# A number that says no unit, as it is typed: 12.5, 5/16, 1 1/2.
_PLAIN = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?|([0-9]+ )?[0-9]+/[0-9]+", re.ASCII)


class QuantityInput(forms.TextInput):
    """A text box with the unit of a plain number after it; keeps what was typed.

    Where that unit hangs on who reads, the form brings it along, so that a number means what
    stood beside it, however late the form is sent and whatever was chosen meanwhile.
    """

    template_name = "plant/widgets/quantity.html"
    measure: Measure

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        unit = reader_measure(self.measure).unit
        written = any(c.isalpha() for c in str(value or ""))  # 550 W beside kW would puzzle
        return super().get_context(name, value, attrs) | {
            "unit": "" if written else unit,
            "brings": unit if is_length(self.measure) else "",
        }

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """What was typed, with its unit where a plain number does not mean the field's own."""
        typed = super().value_from_datadict(data, files, name)
        if not is_length(self.measure):
            return typed
        stood = data.get(f"{name}-unit", self.measure.unit)
        meant = stood if stood in UNITS else self.measure.unit
        return with_unit(typed, meant, self.measure)


def is_length(measure: Measure) -> bool:
    """Whether plain numbers of this field are in the unit that the reader chose."""
    return measure.unit == MM and IN in measure.symbols


def reader_measure(measure: Measure) -> Measure:
    """The field as it stands for this reader: the chosen unit of lengths first."""
    return led_by(measure, length_unit()) if is_length(measure) else measure


def with_unit(typed: Any, meant: str, measure: Measure) -> Any:
    """A plain number with its unit, unless reader and field both take it for that anyhow."""
    text = str(typed or "").strip()
    alike = meant == measure.unit == length_unit()
    return typed if alike or not _PLAIN.fullmatch(text) else f"{text} {meant}"


class QuantityField(forms.CharField):
    """Takes a plain number, or a number with one of the measure's units.

    The cleaned value is a plant.units.Typed, or None when nothing was typed in an optional field.

    Args:
        measure: what kind of figure, its units and its hard range; see plant/units.py.
        keypad: which keys a phone offers: "decimal" for figures, quickest with gloves on; "text"
            where people do write another unit, for instance a rule in inches.
    """

    widget = QuantityInput

    def __init__(self, measure: Measure, *, keypad: str = "decimal", **given: Any) -> None:
        self.measure = measure
        given.setdefault("help_text", hint(measure))
        super().__init__(strip=False, **given)
        self.widget.measure = measure
        self.widget.attrs.setdefault("inputmode", keypad)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.setdefault("maxlength", str(2 * MOST_CHARACTERS))

    def prepare_value(self, value: Any) -> Any:
        value = value.text_as_typed if isinstance(value, Typed) else value
        if not is_length(self.measure):
            return value
        # What was kept without a unit is in the field's own.
        return with_unit(value, self.measure.unit, self.measure)

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)

    def clean(self, value: Any) -> Typed | None:
        text = self.to_python(value) or ""
        if not text.strip():
            if self.required:
                raise ValidationError(self.error_messages["required"], code="required")
            return None
        self.run_validators(text)
        try:
            return self.read(text)
        except NotAccepted as refused:
            raise ValidationError(str(refused), code="not_accepted") from refused

    def read(self, text: str) -> Typed:
        """What the text means."""
        return read(text, reader_measure(self.measure))


class OpenQuantityField(QuantityField):
    """A figure off an instrument, which may show only "> 99.9": beyond the end of its range.

    The cleaned value is a plant.units.OpenTyped, or None.
    """

    def __init__(self, measure: Measure, **given: Any) -> None:
        given.setdefault("keypad", "text")  # the signs are on no phone's decimal keys
        super().__init__(measure, **given)

    def read(self, text: str) -> Typed:
        return read_open(text, self.measure)


class WholeField(forms.IntegerField):
    """Takes a whole number in plain figures; nothing is read into signs or other digits."""

    def to_python(self, value: Any) -> int | None:
        text = str(value).strip(" ") if value is not None else ""
        if text and not re.fullmatch(r"[0-9]{1,9}", text):
            raise ValidationError(self.error_messages["invalid"], code="invalid")
        return super().to_python(text)


class WordsField(forms.CharField):
    """Takes words as they can be kept: composed, without control or turning characters.

    Args:
        high: [characters] at most so many; lines: whether line breaks are allowed.
    """

    def __init__(self, *, high: int, lines: bool = False, **given: Any) -> None:
        self.high, self.lines = high, lines
        if lines:
            given.setdefault("widget", forms.Textarea)
        super().__init__(strip=False, **given)
        self.widget.attrs.setdefault("maxlength", str(high))

    def clean(self, value: Any) -> str:
        try:
            kept = clean(self.to_python(value) or "", high=self.high, lines=self.lines)
        except TextRefused as refused:
            raise ValidationError(str(refused), code="refused") from refused
        if self.required and not kept:
            raise ValidationError(self.error_messages["required"], code="required")
        return kept


def _hint(measure: Measure, words: str) -> str:
    return f"{words} {_units_of(reader_measure(measure))}".strip()


_lazy_hint = lazy(_hint, str)


def hint(measure: Measure, words: str = "") -> Any:
    """The hint of a field: words, then what it takes, said when the page is drawn."""
    return _lazy_hint(measure, words)


def _units_of(measure: Measure) -> str:
    others = [_spoken(symbol) for symbol in measure.symbols[1:]]
    own = "inches" if measure.unit == IN else measure.unit
    if not others:
        return _("In {own}.").format(own=own)
    return _("In {own}, or write the unit: {others}.").format(own=own, others=", ".join(others))


def _spoken(symbol: str) -> str:
    return _("4:30 for hours and minutes") if symbol == CLOCK else symbol
