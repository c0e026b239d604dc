"""Who gets a machine and until when, and how it comes back."""

import re
from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.actions.stay import Dial, Going
from maintenance.forms.entry import DayField, EntryForm, PhotoField, words_field
from maintenance.models import Hirer, Stay
from plant import units
from plant.actions.refusal import Refused
from plant.fields import QuantityField
from plant.lazy_text import gettext_lazy
from plant.models import Machine, Supply
from plant.units import HOURS

BEFORE = "before"
FUELLED = (Supply.PETROL, Supply.DIESEL, Supply.OIL)
PHOTOS = (
    ("photo", gettext_lazy("Photo of its condition")),
    ("photo-2", gettext_lazy("Photo of its condition, second")),
    ("photo-3", gettext_lazy("Photo of its condition, third")),
)
# What goes with a machine is a list in words; more lines than this are one line again.
MOST_LOOSE = 12


class _DialForm(EntryForm):
    """A form with the meter in it, for machines that have one, and how the machine looks."""

    def add_dial(self, machine: Machine) -> None:
        if machine.kind.has_meter and machine.meter_broken_at is None:
            self.fields["dial"] = QuantityField(
                HOURS, label=gettext("What the meter shows"), required=False
            )
            if "confirmed" in self.data:
                self.ask_again()

    def ask_again(self) -> None:
        self.fields["confirmed"] = forms.BooleanField(
            label=gettext("I have read the meter again and it is right"), required=False
        )

    def refuse(self, refused: Refused) -> None:
        if refused.field == "dial":
            self.ask_again()
        super().refuse(refused)

    def dial(self) -> Dial | None:
        typed = self.cleaned_data.get("dial")
        if typed is None:
            return None
        return Dial(
            tenths=units.tenths_of_hour(typed.value_si),
            typed=typed.text_as_typed,
            confirmed=bool(self.cleaned_data.get("confirmed")),
        )

    def add_condition(self, machine: Machine, hint: str) -> None:
        """Fuel where it is fuelled, clean or not, in words, and up to three photos."""
        if machine.supply in FUELLED:
            self.fields["fuel"] = forms.ChoiceField(
                label=gettext("Fuel"), required=False, choices=Stay.Fuel.choices
            )
        self.fields["clean"] = forms.ChoiceField(
            label=gettext("Clean"), required=False, choices=Stay.Clean.choices
        )
        self.fields["condition"] = words_field(
            gettext("Condition"), high=400, rows=2, required=False, help_text=hint
        )
        for name, label in PHOTOS:
            more = {} if name == "photo" else {"help_text": ""}
            self.fields[name] = PhotoField(label=label, **more)

    def photos(self) -> dict[str, bytes]:
        given = {name: self.cleaned_data.get(name) for name, _ in PHOTOS}
        return {name: photo for name, photo in given.items() if photo}


class GoingForm(_DialForm):
    """Who gets it, where, until when. The plan is asked for once something falls due meanwhile.

    Args:
        ways: which choices there are for what falls due; none where nothing can be chosen.
    """

    hirer = forms.CharField(
        label=gettext_lazy("Hirer"),
        required=False,
        max_length=80,
        help_text=gettext_lazy("Leave it empty for a site of our own."),
        widget=forms.TextInput(attrs={"list": "hirers", "autocomplete": "off"}),
    )
    hirer_phone = forms.CharField(
        label=gettext_lazy("Hirer's phone"),
        required=False,
        max_length=40,
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
    )
    site = forms.CharField(
        label=gettext_lazy("Site"),
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    site_phone = forms.CharField(
        label=gettext_lazy("Site phone"),
        max_length=40,
        help_text=gettext_lazy("Rung when the machine is stopped there."),
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
    )
    due_back_on = DayField(label=gettext_lazy("Due back on"))
    went_with = words_field(
        gettext_lazy("What goes with it"),
        high=400,
        rows=2,
        required=False,
        help_text=gettext_lazy(
            "Leads, guards, keys: one a line. Each is asked for when it comes back."
        ),
    )

    def __init__(
        self,
        *args: Any,
        machine: Machine,
        notes: Sequence[str] = (),
        issues: bool = False,
        passes: bool = False,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.notes, self.issues = notes, issues
        self.hirers = Hirer.objects.filter(depot_id=machine.depot_id)
        if issues:
            self.add_dial(machine)
            self.add_condition(machine, gettext("Dents, marks, what is missing already."))
        if passes:
            self.fields["taken_by"] = forms.CharField(
                label=gettext("Who takes it over"),
                max_length=80,
                help_text=gettext("They check it before use. Until then it is Not yet passed."),
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )
        if notes:
            self.fields["note_shown"] = forms.BooleanField(
                label=gettext("Whoever takes it was shown the note"), required=False,
                help_text=" ".join(f"{note}." for note in notes),
            )  # fmt: skip
        if issues:
            self.fields["passport"] = forms.BooleanField(
                label=gettext("The passport goes with it, printed or sent"),
                required=False,
                help_text=gettext(
                    "It is asked for with the issue; the page after this one has it."
                ),
            )
        if "plan" in self.data:
            self.ask_plan()

    def refuse(self, refused: Refused) -> None:
        if refused.field in ("plan", "plan_reason"):
            self.ask_plan()
        super().refuse(refused)

    def ask_plan(self) -> None:
        """Asks what is done about work that falls due while it is out."""
        ways = [way for way in Stay.Plan.choices if way[0]]
        if self.issues:
            ways = [(BEFORE, gettext("Do the work before it goes: it stays here now")), *ways]
        self.fields["plan"] = forms.ChoiceField(
            label=gettext("What is done about it?"),
            required=False,
            choices=ways,
            widget=forms.RadioSelect(attrs={"class": "choices"}),
        )
        self.fields["plan_reason"] = words_field(
            gettext("Why it goes all the same"), high=400, rows=2, required=False,
            help_text=gettext("Needed for that choice alone: 10 letters or more."),
        )  # fmt: skip

    def going(self) -> Going:
        kept = self.cleaned_data
        return Going(
            hirer=kept["hirer"],
            hirer_phone=kept["hirer_phone"],
            site=kept["site"],
            site_phone=kept["site_phone"],
            due_back_on=kept["due_back_on"],
            went_with=kept["went_with"],
            condition=kept.get("condition", ""),
            fuel=kept.get("fuel", ""),
            clean=kept.get("clean", ""),
        )


class BackForm(_DialForm):
    """How a machine came back, and which of the things that went with it."""

    def __init__(self, *args: Any, machine: Machine, stay: Stay | None, **more: Any) -> None:
        super().__init__(*args, **more)
        self.add_dial(machine)
        self.loose = loose_items(stay.went_with) if stay else []
        if self.loose:
            self.fields["came"] = forms.MultipleChoiceField(
                label=gettext("What came back of it?"),
                help_text=gettext("What is not ticked is kept as missing."),
                required=False,
                choices=[(str(n), item) for n, item in enumerate(self.loose)],
                widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
            )
        self.fields["came_with"] = words_field(
            gettext("What else came back with it")
            if self.loose
            else gettext("What came back with it"),
            high=400,
            rows=2,
            required=False,
        )
        self.add_condition(machine, gettext("Beside what was told when it went out."))
        self.order_fields(["entry", "dial", "confirmed"])

    def came_with(self) -> str:
        came = self.cleaned_data.get("came", [])
        told = [item for n, item in enumerate(self.loose) if str(n) in came]
        return "\n".join([*told, *filter(None, [self.cleaned_data["came_with"]])])[:400]

    def missing(self) -> str:
        came = self.cleaned_data.get("came", [])
        return "\n".join(item for n, item in enumerate(self.loose) if str(n) not in came)


def loose_items(told: str) -> list[str]:
    """The things of a list in words: one a line, or between commas and semicolons."""
    parts = re.split(r"[\n;,]+", told)
    items = [part.strip().rstrip(".") for part in parts if part.strip(" .")]
    return items if len(items) <= MOST_LOOSE else [" ".join(told.split())]
