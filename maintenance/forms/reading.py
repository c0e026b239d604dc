"""The figure of a meter; a meter changed, or broken; what was run without one."""

from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.forms.entry import FIRST_DAY, DayField, EntryForm, words_field
from maintenance.rules.words import day_text
from plant.fields import QuantityField, WholeField
from plant.lazy_text import gettext_lazy
from plant.models import Measure
from plant.units import HOURS, Typed, tenths_of_hour

MOST_COUNTED = 99_999_999


class _FigureForm(EntryForm):
    """A form with figures of one meter: hours with their unit, or whole counts."""

    figures: tuple[tuple[str, str], ...] = ()

    def __init__(self, *args: Any, measure: str = Measure.HOURS, **more: Any) -> None:
        super().__init__(*args, **more)
        for name, label in self.figures:
            self.fields[name] = self._field(label, measure)
        self.order_fields(["entry", *(name for name, _ in self.figures)])

    def _field(self, label: str, measure: str) -> forms.Field:
        if measure == Measure.HOURS:
            return QuantityField(HOURS, label=label)
        return WholeField(
            label=f"{label} ({measure})", max_value=MOST_COUNTED,
            widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        )  # fmt: skip

    def tenths(self, name: str) -> int:
        """[0.1] of an hour, or of one count."""
        given = self.cleaned_data[name]
        return tenths_of_hour(given.value_si) if isinstance(given, Typed) else given * 10

    def typed(self, name: str) -> str:
        given = self.cleaned_data[name]
        return given.text_as_typed if isinstance(given, Typed) else str(given)


class MeterForm(_FigureForm):
    """What the dial shows; *confirmed* and *rolled* are asked for only when it does not fit."""

    figures = (("dial", gettext_lazy("What the meter shows")),)
    read_at = forms.DateTimeField(
        label=gettext_lazy("When it was read"),
        required=False,
        help_text=gettext_lazy("Leave it empty for now."),
        widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}),
    )
    confirmed = forms.BooleanField(
        label=gettext_lazy("I have read it again and it is right"),
        required=False,
        help_text=gettext_lazy(
            "It is then kept as questioned, and moves no due date until a fitter has looked."
        ),
    )
    rolled = forms.BooleanField(
        label=gettext_lazy("It went past its last figure and began again at nought"),
        required=False,
        help_text=gettext_lazy("The total then goes on from where it stood."),
    )

    def __init__(self, *args: Any, at: datetime, may_change: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        self.at = at
        if not may_change:
            del self.fields["rolled"]
        self.asks_again = bool({"confirmed", "rolled"} & set(self.data))

    def clean_read_at(self) -> datetime:
        read_at: datetime | None = self.cleaned_data["read_at"]
        if read_at is not None and read_at > self.at:
            raise forms.ValidationError(
                gettext("That moment is still to come. Leave it empty for now.")
            )
        if read_at is not None and read_at.date() < FIRST_DAY:
            raise forms.ValidationError(
                gettext("Give a moment after {first_day}.").format(first_day=day_text(FIRST_DAY))
            )
        return read_at or self.at

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("confirmed") and cleaned.get("rolled"):
            self.add_error("rolled", gettext("Tick one of the two. Nothing was saved."))
        return cleaned


class MeterChangeForm(_FigureForm):
    """What the new dial shows, and what was run without one."""

    figures = (
        ("dial", gettext_lazy("What the new dial shows")),
        ("blind", gettext_lazy("Run without a dial, estimated")),
    )
    reason = words_field(gettext_lazy("Why it was changed"), high=400, rows=2)


class MeterBrokenForm(EntryForm):
    since = DayField(
        label=gettext_lazy("Since which day"),
        help_text=gettext_lazy("The day on which it told nothing more."),
    )
    reason = words_field(gettext_lazy("What is wrong with it"), high=400, rows=2)


class BlindForm(_FigureForm):
    """What was run without a dial, as somebody estimates it."""

    figures = (("blind", gettext_lazy("Run without a dial, in all")),)
    reason = words_field(gettext_lazy("How it was estimated"), high=400, rows=2)


class AcceptFigureForm(EntryForm):
    reason = words_field(gettext_lazy("Why it counts"), high=400, rows=2)
