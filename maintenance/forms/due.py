"""Putting work off, correcting when it was done, and the week of a depot."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext, ngettext

from maintenance.contents.open_days import WORKING_WEEK, OpenDays
from maintenance.forms.entry import DayField, EntryForm, words_field
from plant.fields import QuantityField, WholeField, WordsField
from plant.lazy_text import gettext_lazy as _
from plant.models import Measure
from plant.units import HOURS, tenths_of_hour

WEEKDAYS = (
    _("Monday"),
    _("Tuesday"),
    _("Wednesday"),
    _("Thursday"),
    _("Friday"),
    _("Saturday"),
    _("Sunday"),
)


class PutOffForm(EntryForm):
    to = DayField(label=_("Put off to"))
    reason = words_field(
        _("Why"), high=400, help_text=_("10 letters or more. It stands on the record.")
    )

    def __init__(self, *args: Any, limit_days: int, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["to"].help_text = ngettext(
            "At most {days} day after the day it is due.",
            "At most {days} days after the day it is due.",
            limit_days,
        ).format(days=limit_days)


class CorrectDoneForm(EntryForm):
    """The right day, or that it was not done at all."""

    DONE, NOT_DONE = "done", "not done"
    what = forms.ChoiceField(
        label=_("What is right?"),
        choices=((DONE, _("It was done on another day")), (NOT_DONE, _("It was not done"))),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    on = DayField(label=_("Day it was done"), required=False)
    hours = QuantityField(HOURS, label=_("Running hours then"), required=False)
    reason = words_field(
        _("Why"), high=500, help_text=_("10 letters or more. It stands on the record.")
    )

    def __init__(self, *args: Any, measure: str = Measure.HOURS, **more: Any) -> None:
        super().__init__(*args, **more)
        if measure != Measure.HOURS:
            label = gettext("{label} then").format(label=Measure(measure).label)
            self.fields["hours"] = WholeField(label=label, required=False, max_value=99_999_999)
            self.order_fields(["what", "on", "hours", "reason"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        done = cleaned.get("what") == self.DONE
        if done and not cleaned.get("on") and "on" not in self.errors:
            self.add_error("on", gettext("Give the day it was done."))
        if not done:
            cleaned["on"] = cleaned["hours"] = None
        return cleaned

    def tenths(self) -> int | None:
        typed = self.cleaned_data.get("hours")
        if typed is None or isinstance(typed, int):
            return None if typed is None else typed * 10
        return tenths_of_hour(typed.value_si)


class WeekForm(forms.Form):
    """The seven days: open or not, and the fitters' hours of each."""

    def __init__(self, *args: Any, days: OpenDays, **more: Any) -> None:
        super().__init__(*args, **more)
        for weekday, name in enumerate(WEEKDAYS):
            minutes = days.minutes.get(weekday, 0)
            is_open = weekday in (days.open_weekdays if days.told else WORKING_WEEK)
            self.fields[f"open_{weekday}"] = forms.BooleanField(
                label=name, required=False, initial=is_open
            )
            self.fields[f"hours_{weekday}"] = QuantityField(
                HOURS,
                label=gettext("Fitters' time on {name}").format(name=name),
                required=False,
                initial=f"{minutes / 60:g}" if minutes else "",
            )

    @property
    def rows(self) -> Iterator[tuple[forms.BoundField, forms.BoundField]]:
        for weekday in range(7):
            yield self[f"open_{weekday}"], self[f"hours_{weekday}"]

    def week(self) -> dict[int, tuple[bool, int]]:
        told = {}
        for weekday in range(7):
            typed = self.cleaned_data.get(f"hours_{weekday}")
            minutes = 0 if typed is None else round(typed.value_si / 60)
            told[weekday] = (self.cleaned_data[f"open_{weekday}"], minutes)
        return told


class ClosedDayForm(forms.Form):
    on = DayField(label=_("Day"))
    name = WordsField(high=60, label=_("Why it is closed"))
