"""Adding a test instrument, its calibration, and withdrawing it."""

from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.models import Instrument
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, User
from plant.rights import Right, depots_where


class InstrumentForm(EntryForm):
    name = forms.CharField(
        max_length=40,
        label=_("Name at this depot"),
        help_text=_("As people call it: Bench tester 1."),
    )
    description = forms.CharField(
        max_length=120,
        required=False,
        label=_("What it is"),
        help_text=_("In plain words, no maker."),
    )
    serial = forms.CharField(max_length=60, label=_("Serial number"))
    reads = forms.MultipleChoiceField(
        label=_("What it reads"),
        choices=Instrument.Reads.choices,
        widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
    )
    depot = forms.ModelChoiceField(Depot.objects.none(), label=_("Depot"), empty_label=None)

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.KEEP_INSTRUMENTS))


class CalibrationForm(EntryForm):
    GOOD, ADJUSTED, WRONG = "good", "adjusted", "wrong"
    done_on = DayField(label=_("Done on"))
    found = forms.ChoiceField(
        label=_("How it was found, before anything was set right"),
        choices=[
            (GOOD, _("Good: it read right as it came in")),
            (ADJUSTED, _("Wrong, and put right: it counts from now on")),
            (WRONG, _("Wrong, and not put right")),
        ],
        widget=forms.RadioSelect(attrs={"class": "choices"}),
        help_text=_("Wrong: every test since its last good calibration comes into doubt."),
    )
    valid_until = DayField(
        label=_("Valid until"), required=False, help_text=_("Empty where it was not put right.")
    )
    certificate = forms.CharField(max_length=60, label=_("Certificate number"))
    note = words_field(_("Note"), high=400, rows=2, required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        until, found = cleaned.get("valid_until"), cleaned.get("found")
        if found == self.WRONG and until is not None:
            self.add_error("valid_until", gettext("Leave it empty: it was not put right."))
        if (
            found in (self.GOOD, self.ADJUSTED)
            and until is None
            and not self.has_error("valid_until")
        ):
            self.add_error("valid_until", gettext("Give the last day that it is valid."))
        return cleaned


class StrikeForm(EntryForm):
    reason = words_field(
        _("What was wrong with the entry"), high=500, rows=2, min_length=10,
        help_text=_("At least ten letters. Enter the right calibration afterwards."),
    )  # fmt: skip


class WithdrawForm(EntryForm):
    reason = words_field(_("Why it is withdrawn"), high=400, rows=2)
