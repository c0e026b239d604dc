"""The meter figure, and the trip times of a residual current device."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms

from maintenance.actions.test import FACTORS, Trip
from maintenance.forms.entry import DAY, FIRST_DAY, DayField, EntryForm, words_field
from maintenance.rules.electrical import RcdProfile
from plant.fields import QuantityField
from plant.units import HOURS, TIME_MS


class MeterForm(EntryForm):
    """What the dial shows; *confirmed* is asked for only when the figure does not fit."""

    dial = QuantityField(HOURS, label="What the meter shows")
    read_at = forms.DateTimeField(
        label="When it was read",
        required=False,
        help_text="Leave it empty for now.",
        widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}),
    )
    confirmed = forms.BooleanField(
        label="I have read it again and it is right",
        required=False,
        help_text="It is then kept as questioned, and moves no due date until a fitter has looked.",
    )

    def __init__(self, *args: Any, at: datetime, **more: Any) -> None:
        super().__init__(*args, **more)
        self.at = at
        self.asks_again = "confirmed" in self.data

    def clean_read_at(self) -> datetime:
        read_at: datetime | None = self.cleaned_data["read_at"]
        if read_at is not None and read_at > self.at:
            raise forms.ValidationError("That moment is still to come. Leave it empty for now.")
        if read_at is not None and read_at.date() < FIRST_DAY:
            raise forms.ValidationError(f"Give a moment after {FIRST_DAY:{DAY}}.")
        return read_at or self.at


class MeterChangeForm(EntryForm):
    """What the new dial shows, and what was run without one."""

    dial = QuantityField(HOURS, label="What the new dial shows")
    blind = QuantityField(
        HOURS, label="Hours run without a dial, estimated", required=False, initial="0"
    )
    reason = words_field("Why it was changed", high=400, rows=2)


class AcceptFigureForm(EntryForm):
    reason = words_field("Why it counts", high=400, rows=2)


class RcdTestForm(EntryForm):
    """The device, the instrument and three readings; passed or not is worked out."""

    profile = forms.ChoiceField(
        label="Standard marked on the device",
        help_text="The limits differ: a time that passes one device can fail another.",
    )
    instrument = forms.CharField(label="Instrument, name and number", max_length=80)
    calibrated_until = DayField(
        label="Its calibration runs until",
        required=False,
        help_text="Without it, or after it, its readings cannot make a pass.",
    )

    def __init__(self, *args: Any, profiles: Sequence[RcdProfile], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["profile"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "Choose the standard"), *((p.key, p.name) for p in profiles)]
        for name, _, _ in FACTORS:
            self.fields[name] = QuantityField(TIME_MS, label="Trip time", required=False)
            self.fields[f"{name}_held"] = forms.BooleanField(
                label="It did not trip", required=False
            )
        self.fields["note"] = words_field("Note", high=2000, required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name, _, _ in FACTORS:
            if name in self.errors:
                continue
            if bool(cleaned.get(name)) == bool(cleaned.get(f"{name}_held")):
                self.add_error(name, "Enter the time, or tick that it did not trip.")
        return cleaned

    @property
    def rows(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        return [(label, self[name], self[f"{name}_held"]) for name, _, label in FACTORS]

    def trips(self) -> dict[str, Trip]:
        found = {}
        for name, _, _ in FACTORS:
            typed = self.cleaned_data[name]
            found[name] = (
                Trip(typed="no trip", seconds=None)
                if typed is None
                else Trip(typed=f"{typed.text_as_typed}", seconds=typed.value_si)
            )
        return found
