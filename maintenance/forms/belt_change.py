"""Forms of a belt that is changed at the machine, and of the days that a belt takes to get."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.actions.belt_change import FirstSetting, OldBelt
from maintenance.actions.belt_life import MOST_LEAD_DAYS
from maintenance.actions.new_belt import WIDTH_TOOLS, NewBelt
from maintenance.actions.reading import TENSION_TOOLS
from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.forms.measure import TensionFields, tool_field
from maintenance.models import Part, StockPlace, TensionReading
from maintenance.rules.belt import key_of
from plant.drives.marks import BeltReading
from plant.drives.sections import SECTIONS
from plant.fields import QuantityField, WholeField, WordsField, hint
from plant.lazy_text import gettext_lazy as _
from plant.units import LENGTH, WIDTH

FREQUENCY_TOOL = TENSION_TOOLS["frequency"][0]


class LeadForm(EntryForm):
    days = WholeField(
        min_value=0, max_value=MOST_LEAD_DAYS, label=_("Days to get a belt"),
        help_text=_("14 is common practice, no source."),
    )  # fmt: skip


class OrderForm(EntryForm):
    """The next belt is ordered, or one lies here and is kept for the machine."""

    how = forms.ChoiceField(
        label=_("What is done"),
        choices=[("ordered", _("It is ordered")), ("here", _("One lies here"))],
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    ordered_from = WordsField(high=60, required=False, label=_("From where, or where it lies"))
    expected_on = DayField(required=False, label=_("Expected on"))


class OldBeltForm(EntryForm):
    """The belt that came off: its width, or a word why it was not measured."""

    width_1 = QuantityField(
        WIDTH, required=False, label=_("Top width of the old belt"),
        help_text=hint(WIDTH, _("At the top edge.")),
    )  # fmt: skip
    tool = tool_field(WIDTH_TOOLS, label=_("Measured with"))
    because = WordsField(
        high=200, required=False, label=_("Or: why it was not measured"),
        help_text=_("For example: torn off, lost."),
    )  # fmt: skip

    def clean(self) -> None:
        cleaned = self.cleaned_data
        if not self.errors and not cleaned.get("width_1") and not cleaned.get("because"):
            self.add_error("width_1", gettext("Measure the old belt, or say below why not."))

    def told(self, *, at: datetime) -> OldBelt:
        cleaned = self.cleaned_data
        return OldBelt(
            at=at, width=cleaned["width_1"], because=cleaned["because"],
            tool=cleaned["tool"] if cleaned["width_1"] else "",
        )  # fmt: skip


class NewBeltForm(EntryForm):
    """The belt that goes on: what stands on it, where it is from, and its own width."""

    mark = forms.CharField(
        max_length=200, label=_("What stands on the new belt"),
        help_text=_("All of it, as it stands. Read it off the belt in your hand."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )  # fmt: skip
    choice = WordsField(
        high=60, required=False, label=_("Which belt is it?"), widget=forms.HiddenInput
    )
    width = QuantityField(
        WIDTH, label=_("Its own top width, new"),
        help_text=_("At the top edge, not squeezed. Wear is counted from this."),
    )  # fmt: skip
    tool = tool_field(WIDTH_TOOLS, label=_("Measured with"))
    stock = forms.ChoiceField(required=False, label=_("Taken from"))
    taken_from = WordsField(high=60, required=False, label=_("Or from where, in words"))
    section = forms.ChoiceField(
        required=False, label=_("Section, by hand"),
        choices=[("", _("Read it from the mark")), *((code, code) for code in SECTIONS)],
    )  # fmt: skip
    length = QuantityField(
        LENGTH, required=False, label=_("Datum length, by hand"),
        help_text=_("Leave empty when the mark says it."),
    )  # fmt: skip
    together = forms.BooleanField(required=False, label=_("All belts of the set are new"))
    motor_in = forms.BooleanField(
        required=False, label=_("The motor was moved in, and the belt went on without force")
    )
    sure = forms.BooleanField(
        required=False, label=_("I looked again: it is this belt"), widget=forms.HiddenInput
    )

    def __init__(
        self, *args: Any, belts: int, stock: Sequence[tuple[str, str]], marks: Sequence[str],
        **more: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **more)
        self.belts, self.marks = belts, tuple(dict.fromkeys(marks))
        field = self.fields["stock"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", gettext("Elsewhere, said below")), *stock]
        self.fields["mark"].widget.attrs["list"] = "marks"
        self.fields["together"].label = gettext(
            "All {belts} belts are new, as one matched set"
        ).format(belts=belts)
        if belts == 1:
            del self.fields["together"]
        if not stock:
            del self.fields["stock"]
            self.fields["taken_from"].label = gettext("Taken from")

    def clean(self) -> None:
        cleaned = self.cleaned_data
        if not cleaned.get("motor_in"):
            self.add_error(
                "motor_in",
                gettext("Move the motor in until the belt goes on without force, then tick."),
            )
        if self.belts > 1 and not cleaned.get("together"):
            self.add_error(
                "together",
                gettext(
                    "Change all {belts} together: a new belt beside worn ones carries "
                    "the load alone."
                ).format(belts=self.belts),
            )

    def offer(self, readings: Sequence[BeltReading]) -> None:
        """Shows the ways in which the mark can be read, to choose one."""
        self.fields["choice"] = forms.ChoiceField(
            label=gettext("Which belt is it?"),
            choices=[(key_of(each), each.words) for each in readings],
            widget=forms.RadioSelect(attrs={"class": "choices"}),
            required=False,
        )

    def ask(self) -> None:
        """Shows the tick by which somebody says that a questioned belt is right."""
        self.fields["sure"].widget = forms.CheckboxInput()

    def told(self) -> NewBelt:
        cleaned = self.cleaned_data
        part, place = None, None
        if stock := cleaned.get("stock"):
            part_pk, place_pk = stock.split(":")
            part, place = Part.objects.get(pk=part_pk), StockPlace.objects.get(pk=place_pk)
        return NewBelt(
            mark=cleaned["mark"].strip(), width=cleaned["width"], tool=cleaned["tool"],
            section=cleaned["section"], length=cleaned["length"], choice=cleaned["choice"],
            part=part, place=place, taken_from=cleaned["taken_from"],
            together=bool(cleaned.get("together")), motor_in=cleaned["motor_in"],
            sure=cleaned["sure"],
        )  # fmt: skip


class SetForm(TensionFields):
    """How the new belt was set, where the motor stands, and the guards back on."""

    because = WordsField(
        high=200, required=False, label=_("Or: why it was not read"),
        help_text=_("For example: no gauge in the van. A look is booked all the same."),
    )  # fmt: skip
    guards_on = forms.BooleanField(required=False, label=_("All guards are back on and fixed"))

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.order_fields(["force", "depth", "tool", "frequency", "confirmed", "because"])
        self.fields["slot_out"].help_text = gettext("As the motor stands now, the new belt tight.")

    def clean(self) -> None:
        if not self.cleaned_data.get("guards_on"):
            self.add_error("guards_on", gettext("Put the guards back on first, then tick."))
        if not self.cleaned_data.get("because"):
            super().clean()

    def told(self) -> FirstSetting:
        cleaned = self.cleaned_data
        figure = cleaned["force"] if self.is_force else cleaned["frequency"]
        method = TensionReading.Method.FORCE
        if figure is not None and not self.is_force:
            method = TensionReading.Method.FREQUENCY
        tool = cleaned["tool"] if self.is_force else FREQUENCY_TOOL
        return FirstSetting(
            method=method, figure=figure, tool=tool if figure is not None else "",
            depth=cleaned["depth"], because=cleaned["because"], slot_out=cleaned["slot_out"],
            confirmed=cleaned["confirmed"], guards_on=cleaned["guards_on"],
        )  # fmt: skip


class CorrectFittingForm(NewBeltForm):
    """What was really fitted, or that nothing was, with a reason."""

    not_fitted = forms.BooleanField(
        required=False, label=_("No new belt was fitted: the old one is on")
    )
    reason = words_field(_("Reason"), high=500, rows=2)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, belts=1, stock=(), marks=(), **more)
        for name in ("motor_in", "taken_from"):
            del self.fields[name]
        self.order_fields(["mark", "choice", "sure", "width", "tool", "not_fitted", "reason"])

    def clean(self) -> None:
        pass

    def told(self) -> NewBelt:
        self.cleaned_data |= {"motor_in": True, "taken_from": ""}
        return super().told()
