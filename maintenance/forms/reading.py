"""The figure of a meter, and a changed meter."""

from datetime import datetime
from typing import Any

from django import forms

from maintenance.forms.entry import DAY, FIRST_DAY, EntryForm, words_field
from plant.fields import QuantityField
from plant.units import HOURS


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
