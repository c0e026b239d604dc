"""Forms of a plan: one line with its figures and steps, and taking a line off a machine."""

import hashlib
import json
from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.actions.plan_line import LineTold, StepTold
from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.models import PlanLine
from plant.fields import QuantityField, WholeField, WordsField
from plant.lazy_text import gettext_lazy as _
from plant.models import Measure
from plant.units import HOURS, tenths_of_hour

_HOURS = ("first_hours", "every_hours", "notice_hours")


class PlanLineForm(EntryForm):
    """One line: first at, then every; by hours, by the calendar, or both."""

    title = WordsField(high=80, label=_("The work"))
    measure = forms.ChoiceField(
        label=_("Its meter counts"),
        choices=Measure.choices,
        help_text=_("Starts, strokes and the like are counted where the machine has a counter."),
    )
    first_hours = QuantityField(HOURS, required=False, label=_("First at, by the meter"))
    every_hours = QuantityField(HOURS, required=False, label=_("Then every, by the meter"))
    first_months = WholeField(required=False, label=_("First after, months"), max_value=120)
    every_months = WholeField(required=False, label=_("Then every, months"), max_value=120)
    first_days = WholeField(
        required=False,
        label=_("First after, days"),
        max_value=3650,
        help_text=_("A week is 7 days."),
    )
    every_days = WholeField(required=False, label=_("Then every, days"), max_value=3650)
    counts_from = forms.ChoiceField(
        label=_("It counts"),
        choices=PlanLine.Counts.choices,
        widget=forms.RadioSelect(attrs={"class": "choices"}),
        help_text=_(
            "From when done, late work moves what follows. From the planned point it does not."
        ),
    )
    notice_days = WholeField(label=_("Say so ahead, days"), max_value=365)
    notice_hours = QuantityField(HOURS, label=_("Say so ahead, by the meter"))
    minutes = WholeField(label=_("Takes about, minutes"), max_value=1440)
    level = WholeField(
        label=_("Level"),
        max_value=9,
        help_text=_("0 stands alone. From 1 up, a larger service includes the smaller ones."),
    )
    is_test = forms.BooleanField(
        required=False, label=_("Safety test"), help_text=_("Never put off for a machine in use.")
    )
    source = WordsField(high=200, label=_("Where the figures come from"))
    from_on = DayField(label=_("From which day"), required=False)
    reason = words_field(
        _("Why"), high=500, rows=2, help_text=_("10 letters or more. It is sealed.")
    )

    def __init__(self, *args: Any, line: PlanLine | None = None, **more: Any) -> None:
        super().__init__(*args, **more)
        self.line = line
        counts = "" if line is None else line.measure
        for name in _HOURS:
            if counts != Measure.HOURS:
                # Not known yet whether it is hours, or it is something else.
                self.fields[name].widget.unit = counts
                self.fields[name].help_text = (
                    gettext("A whole number of {counts}.").format(counts=counts)
                    if counts
                    else gettext("Hours, or whole starts or drops.")
                )
        if line is None:
            del self.fields["from_on"]
        else:
            # What a line counts stays as it is; only its figures change.
            del self.fields["measure"]
            self.fields["from_on"].required = True

    @property
    def counts(self) -> str:
        """What the line's meter counts."""
        return str(self.line.measure if self.line else self.cleaned_data.get("measure", ""))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name in _HOURS:
            typed = cleaned.get(name)
            if self.counts in ("", Measure.HOURS) or typed is None:
                continue
            if not typed.text_as_typed.strip().isdecimal():
                self.add_error(
                    name,
                    gettext("Enter a whole number of {counts}, without a unit.").format(
                        counts=self.counts
                    ),
                )
        return cleaned

    def told(self, steps: Sequence[StepTold]) -> LineTold:
        """The line as the action takes it.

        Raises:
            Refused: the figures make no rule.
        """
        given = self.cleaned_data
        tenths = {
            name: None if given[name] is None else tenths_of_hour(given[name].value_si)
            for name in _HOURS
        }
        told = LineTold(
            title=given["title"],
            level=given["level"],
            measure=self.counts,
            first_tenths=tenths["first_hours"],
            every_tenths=tenths["every_hours"],
            first_months=given["first_months"],
            every_months=given["every_months"],
            first_days=given["first_days"],
            every_days=given["every_days"],
            counts_from=given["counts_from"],
            notice_days=given["notice_days"],
            notice_tenths=tenths["notice_hours"] or 0,
            minutes=given["minutes"],
            is_test=given["is_test"],
            source=given["source"],
            steps=tuple(steps),
        )
        told.rule  # noqa: B018 - refuses figures that make no rule
        return told

    def digest(self) -> str:
        """What the form asks for, in short; another answer has another one."""
        asked = {name: self.data.get(name, "") for name in self.fields if name not in _NOT_ASKED}
        return hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()[:16]


_NOT_ASKED = ("entry", "reason")


def initial_of(line: PlanLine) -> dict[str, Any]:
    """What the form of a line begins with."""

    def hours(tenths: int | None) -> str:
        return "" if tenths is None else f"{tenths / 10:g}"

    return {
        **{
            name: getattr(line, name)
            for name in (
                "title", "first_months", "every_months", "first_days", "every_days", "counts_from",
                "notice_days", "minutes", "level", "is_test", "source",
            )
        },
        "first_hours": hours(line.first_tenths),
        "every_hours": hours(line.every_tenths),
        "notice_hours": hours(line.notice_tenths),
    }  # fmt: skip


class StepForm(forms.Form):
    """One step; an empty one is left out."""

    text = WordsField(high=200, required=False, label=_("What is done"))
    target = WordsField(high=60, required=False, label=_("Target"))
    unit = WordsField(high=12, required=False, label=_("Unit of a reading"))
    low = forms.DecimalField(required=False, label=_("Least"), max_digits=12, decimal_places=4)
    high = forms.DecimalField(required=False, label=_("Most"), max_digits=12, decimal_places=4)
    caution = WordsField(high=120, required=False, label=_("Caution, before the step"))
    opens_guard = forms.BooleanField(required=False, label=_("A guard or cover comes off"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("text") and any(
            cleaned.get(name) for name in ("target", "unit", "caution", "opens_guard")
        ):
            self.add_error("text", gettext("Say what is done, or leave the whole step empty."))
        return cleaned

    def told(self) -> StepTold | None:
        given = self.cleaned_data
        if not given.get("text"):
            return None
        return StepTold(
            text=given["text"],
            target=given["target"],
            unit=given["unit"],
            low=None if given["low"] is None else float(given["low"]),
            high=None if given["high"] is None else float(given["high"]),
            caution=given["caution"],
            opens_guard=given["opens_guard"],
        )


StepForms = forms.formset_factory(StepForm, extra=2, max_num=40, validate_max=True)


class EndLineForm(EntryForm):
    from_on = DayField(label=_("From which day"))
    reason = words_field(
        _("Why"), high=500, rows=2, help_text=_("10 letters or more. It is sealed.")
    )


class RestLineForm(EntryForm):
    reason = words_field(
        _("Why"), high=400, rows=2, help_text=_("10 letters or more. It is sealed.")
    )
