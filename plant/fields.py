"""Form fields that read a figure with its unit, as people type it, and words that can be kept."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from plant.text import TextRefused, clean
from plant.units import CLOCK, MOST_CHARACTERS, Measure, NotAccepted, Typed, read, read_open


class QuantityInput(forms.TextInput):
    """A text box with the field's own unit after it; keeps what was typed."""

    template_name = "plant/widgets/quantity.html"
    unit = ""

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        written = any(c.isalpha() for c in str(value or ""))  # 550 W beside kW would puzzle
        return super().get_context(name, value, attrs) | {"unit": "" if written else self.unit}


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
        given.setdefault("help_text", _hint(measure))
        super().__init__(strip=False, **given)
        self.widget.unit = measure.unit
        self.widget.attrs.setdefault("inputmode", keypad)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.setdefault("maxlength", str(2 * MOST_CHARACTERS))

    def prepare_value(self, value: Any) -> Any:
        return value.text_as_typed if isinstance(value, Typed) else value

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
        return read(text, self.measure)


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


def _hint(measure: Measure) -> str:
    others = [_spoken(symbol) for symbol in measure.symbols[1:]]
    if not others:
        return f"In {measure.unit}."
    return f"In {measure.unit}, or write the unit: {', '.join(others)}."


def _spoken(symbol: str) -> str:
    return "4:30 for hours and minutes" if symbol == CLOCK else symbol
