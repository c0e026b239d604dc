"""Forms of the readings of a belt drive: each one question, a few figures, and the rest folded."""

import json
from abc import abstractmethod
from collections.abc import Iterator
from datetime import datetime
from typing import Any, ClassVar

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext

from maintenance.actions.belt_record import LONGEST_NOTE, MOST_REASON
from maintenance.actions.pulley import DISH_TOOLS, GAP_TOOLS, RIDE_TOOLS, Ride
from maintenance.actions.reading import TENSION_TOOLS, WIDTH_TOOLS
from maintenance.actions.slot import SLOT_TOOLS
from maintenance.contents.drive import SIDES
from maintenance.forms.entry import FIRST_DAY, EntryForm, words_field
from maintenance.models import PulleyReading
from maintenance.models.reading import BeltReading
from plant.fields import QuantityField, hint
from plant.lazy_text import gettext_lazy
from plant.models import Drive
from plant.tool_words import tool_words
from plant.units import DEFLECTION, FORCE, FREQUENCY, LENGTH, WIDTH, Typed

YES, NO, UNSURE = "yes", "no", ""
_ANSWERS = {YES: True, NO: False, UNSURE: None}


def tool_field(tools: tuple[str, ...], *, label: str = gettext_lazy("Tool")) -> forms.ChoiceField:
    """The tool that was used, the usual one first."""
    return forms.ChoiceField(
        label=label, choices=lambda: [(tool, tool_words(tool).capitalize()) for tool in tools]
    )


def seen_field(label: str, help_text: str = "") -> forms.ChoiceField:
    """Something that is seen or not, or was not looked at."""
    return forms.ChoiceField(
        label=label, help_text=help_text, required=False, initial=UNSURE,
        choices=[
            (YES, gettext_lazy("Yes")), (NO, gettext_lazy("No")),
            (UNSURE, gettext_lazy("Not seen")),
        ],
        widget=forms.RadioSelect(attrs={"class": "answers"}),
    )  # fmt: skip


class ReadingForm(EntryForm):
    """What every reading of a drive has in common.

    rows: names of fields as they stand, those of a row side by side; folded: those that are
    opened when wanted. With ``corrects`` it puts a reading right and asks for the reason.
    """

    question: ClassVar[str]
    rows: ClassVar[tuple[tuple[str, ...], ...]]
    folded: ClassVar[tuple[tuple[str, ...], ...]] = ()
    fold_title: ClassVar[str] = gettext_lazy("When it was measured, a note")
    button: ClassVar[str]

    read_at = forms.DateTimeField(
        label=gettext_lazy("When it was measured"),
        required=False,
        help_text=gettext_lazy("Leave it empty for now."),
        widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}),
    )
    note = words_field(gettext_lazy("Note"), high=LONGEST_NOTE, required=False)

    def __init__(
        self, *args: Any, at: datetime, drive: Drive, corrects: bool = False, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.at, self.drive, self.corrects = at, drive, corrects
        if corrects:
            del self.fields["read_at"]
            self.fields["reason"] = words_field(
                gettext("Why it is put right"), high=MOST_REASON, rows=2
            )

    def clean_read_at(self) -> datetime:
        read_at: datetime | None = self.cleaned_data["read_at"]
        if read_at is not None and read_at > self.at:
            raise forms.ValidationError(
                gettext("That moment is still to come. Leave it empty for now.")
            )
        if read_at is not None and read_at.date() < FIRST_DAY:
            raise forms.ValidationError(gettext("Give a moment after 1 Jan 2000."))
        return read_at or self.at

    @abstractmethod
    def told(self) -> dict[str, Any]:
        """What was told, as the action of this reading takes it."""

    @staticmethod
    @abstractmethod
    def begins_with(row: BeltReading, told: dict[str, Any]) -> dict[str, Any]:
        """What the form begins with when it puts that reading right. told: as it was sealed."""

    def shown(self) -> Iterator[list[BoundField]]:
        """The fields that everybody fills in."""
        rows = (*self.rows, ("reason",)) if self.corrects else self.rows
        return self._bound(rows)

    def behind(self) -> list[list[BoundField]]:
        """The fields that few need, folded away."""
        rows = (
            (*self.folded, ("note",)) if self.corrects else (*self.folded, ("read_at",), ("note",))
        )
        return list(self._bound(rows))

    @property
    def opened(self) -> bool:
        """Whether the folded part holds something, or something wrong."""
        return any(field.errors or field.value() for row in self.behind() for field in row)

    def _bound(self, rows: tuple[tuple[str, ...], ...]) -> Iterator[list[BoundField]]:
        for row in rows:
            fields = [self[name] for name in row if name in self.fields]
            if fields := [field for field in fields if not field.is_hidden]:
                yield fields


class WidthForm(ReadingForm):
    question = gettext_lazy("How wide is the belt now?")
    button = gettext_lazy("Save this width")
    rows = (("width_1",), ("tool",))
    folded = (("width_2", "width_3"), ("slot_out",))
    fold_title = gettext_lazy("More places, the slot, when, a note")

    width_1 = QuantityField(
        WIDTH, label=gettext_lazy("Top width of the belt"),
        help_text=hint(WIDTH, gettext_lazy("At the top edge, not squeezed.")),
    )  # fmt: skip
    width_2 = QuantityField(
        WIDTH,
        required=False,
        label=gettext_lazy("Second place"),
        help_text=gettext_lazy("Averaged."),
    )
    width_3 = QuantityField(
        WIDTH,
        required=False,
        label=gettext_lazy("Third place"),
        help_text=gettext_lazy("Averaged."),
    )
    tool = tool_field(WIDTH_TOOLS)
    slot_out = QuantityField(
        LENGTH, required=False, label=gettext_lazy("Slot: room left outwards now"),
        help_text=hint(LENGTH, gettext_lazy("Only if the motor was moved since.")),
    )  # fmt: skip

    def told(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            "widths": [given[name] for name in self.places()],
            "tool": given["tool"],
            "slot_out": given["slot_out"],
        }

    def places(self) -> list[str]:
        """Names of the boxes in which a width was given, first to last."""
        return [n for n in ("width_1", "width_2", "width_3") if self.cleaned_data.get(n)]

    @staticmethod
    def begins_with(row: BeltReading, told: dict[str, Any]) -> dict[str, Any]:
        found = {f"width_{n}": each["typed"] for n, each in enumerate(told["readings"], 1)}
        return found | {"tool": told["tool"], "slot_out": typed_in(told, "slot_out")}


class TensionFields(EntryForm):
    """A tension as it is read: a force at mid-span, or the frequency of the plucked span."""

    force = QuantityField(
        FORCE, required=False, label=gettext_lazy("Force at mid-span, on one belt")
    )
    depth = QuantityField(
        DEFLECTION, required=False, label=gettext_lazy("Depth pressed"),
        help_text=gettext_lazy("Leave empty for the depth named above."),
    )  # fmt: skip
    tool = tool_field(TENSION_TOOLS["force"], label=gettext_lazy("Gauge for the force"))
    frequency = QuantityField(
        FREQUENCY, required=False, label=gettext_lazy("Or: frequency of the plucked span")
    )
    confirmed = forms.BooleanField(
        required=False,
        label=gettext_lazy("I looked again: the figure is right"),
        widget=forms.HiddenInput,
    )
    slot_out = QuantityField(
        LENGTH, required=False, label=gettext_lazy("Slot: room left outwards now"),
        help_text=hint(LENGTH, gettext_lazy("Only if the motor was moved since.")),
    )  # fmt: skip

    def clean(self) -> None:
        if set(self.errors) & {"force", "frequency"}:
            return
        given = [name for name in ("force", "frequency") if self.cleaned_data.get(name)]
        if not given:
            self.add_error("force", gettext("Give the force, or the frequency of the span."))
        elif len(given) == 2:
            self.add_error("frequency", gettext("Give one of the two: the force or the frequency."))

    def ask(self) -> None:
        """Shows the tick by which somebody says that a questioned figure is right."""
        self.fields["confirmed"].widget = forms.CheckboxInput()

    @property
    def is_force(self) -> bool:
        return self.cleaned_data.get("force") is not None


class TensionForm(TensionFields, ReadingForm):
    question = gettext_lazy("How tight is the belt?")
    button = gettext_lazy("Save this tension")
    rows = (("force",), ("depth", "tool"), ("frequency",), ("confirmed",))
    folded = (("slot_out",),)
    fold_title = gettext_lazy("The slot, when, a note")

    def told(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            "method": "force" if self.is_force else "frequency",
            "figure": given["force"] if self.is_force else given["frequency"],
            "tool": given["tool"] if self.is_force else TENSION_TOOLS["frequency"][0],
            "depth": given["depth"],
            "slot_out": given["slot_out"],
            "confirmed": given["confirmed"],
        }

    @staticmethod
    def begins_with(row: BeltReading, told: dict[str, Any]) -> dict[str, Any]:
        found = {
            told["method"]: told["reading"]["typed"],
            "depth": typed_in(told, "depth"),
            "slot_out": typed_in(told, "slot_out"),
        }
        return found | ({"tool": told["tool"]} if told["method"] == "force" else {})


class RideForm(ReadingForm):
    question = gettext_lazy("How deep does the belt ride?")
    button = gettext_lazy("Save this ride")
    rows = (("driver", "driver_side"), ("driven", "driven_side"), ("tool",))

    driver = QuantityField(
        LENGTH, required=False, label=gettext_lazy("Motor pulley: from rim to top of the belt"),
        help_text=hint(LENGTH, gettext_lazy("Leave out the pulley you cannot reach.")),
    )  # fmt: skip
    driven = QuantityField(
        LENGTH,
        required=False,
        label=gettext_lazy("Driven pulley: from rim to top of the belt"),
        help_text="",
    )
    tool = tool_field(RIDE_TOOLS)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for side in SIDES:
            self.fields[f"{side}_side"] = forms.ChoiceField(
                label=gettext("The top lies"), required=False,
                choices=[("below", gettext("below the rim")), ("above", gettext("above the rim"))],
            )  # fmt: skip

    def clean(self) -> None:
        if not self.errors and not any(self.cleaned_data.get(side) for side in SIDES):
            self.add_error("driver", gettext("Give the ride of one pulley or of both."))

    def told(self) -> dict[str, Any]:
        given = self.cleaned_data
        rides = {
            side: Ride(typed=given[side], above=given[f"{side}_side"] == "above")
            for side in SIDES
            if given.get(side) is not None
        }
        return {"rides": rides, "tool": given["tool"]}

    @staticmethod
    def begins_with(row: BeltReading, told: dict[str, Any]) -> dict[str, Any]:
        found = {"tool": told["tool"]}
        for side in SIDES:
            if side in told:
                typed, _, where = told[side]["typed"].rpartition(" ")
                found |= {side: typed, f"{side}_side": where}
        return found


class SlotForm(ReadingForm):
    question = gettext_lazy("Where does the motor stand in its slot?")
    button = gettext_lazy("Save this place")
    rows = (("slot_out",), ("tool",), ("tight",))

    slot_out = QuantityField(
        LENGTH, label=gettext_lazy("Room left outwards"),
        help_text=hint(LENGTH, gettext_lazy("From the bolt to the outer end of the slot.")),
    )  # fmt: skip
    tool = tool_field(SLOT_TOOLS)
    tight = forms.ChoiceField(
        label=gettext_lazy("Is the belt tight there?"),
        required=False,
        initial=YES,
        choices=[
            (YES, gettext_lazy("Yes, tight")),
            (NO, gettext_lazy("No, slack")),
            (UNSURE, gettext_lazy("Not sure")),
        ],
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )

    def told(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            "out": given["slot_out"], "tool": given["tool"], "tight": _ANSWERS[given["tight"]],
        }  # fmt: skip

    @staticmethod
    def begins_with(row: BeltReading, told: dict[str, Any]) -> dict[str, Any]:
        tight = told["tight"] if told["tight"] in (YES, NO) else UNSURE
        return {"slot_out": typed_in(told, "slot_out"), "tool": told["tool"], "tight": tight}


class AlignmentForm(ReadingForm):
    question = gettext_lazy("Are the pulleys in line?")
    button = gettext_lazy("Save these gaps")
    rows = (("near", "far"), ("across",), ("tool",))

    near = QuantityField(
        LENGTH,
        label=gettext_lazy("Gap at the near edge"),
        help_text=gettext_lazy(
            "Straight edge on the face of the larger pulley, reaching over the smaller."
        ),
    )
    far = QuantityField(
        LENGTH,
        label=gettext_lazy("Gap at the far edge"),
        help_text=gettext_lazy("0 where it touches."),
    )
    across = QuantityField(
        LENGTH, required=False, label=gettext_lazy("Distance between these two edges"),
        help_text=gettext_lazy("Leave empty for the diameter of the smaller pulley."),
    )  # fmt: skip
    tool = tool_field(GAP_TOOLS)

    def told(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("near", "far", "across", "tool")}

    @staticmethod
    def begins_with(row: BeltReading, told: dict[str, Any]) -> dict[str, Any]:
        found = {name: typed_in(told, name) for name in ("near", "far", "across")}
        return found | {"tool": told["tool"]}


class PulleyForm(ReadingForm):
    question = gettext_lazy("How worn are the pulleys?")
    button = gettext_lazy("Save this pulley")
    rows = (("pulley",), ("shines",), ("step",), ("corroded",), ("dish", "tool"))

    pulley = forms.ChoiceField(
        label=gettext_lazy("Which pulley?"), choices=PulleyReading.Pulley.choices,
        initial=PulleyReading.Pulley.DRIVER,
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )  # fmt: skip
    shines = seen_field(
        gettext_lazy("Does the floor of the groove shine?"),
        gettext_lazy("Then the belt has stood on it."),
    )
    step = seen_field(
        gettext_lazy("Is there a step in a flank?"),
        gettext_lazy("Feel with a fingernail, drive isolated."),
    )
    corroded = seen_field(gettext_lazy("Are the flanks rusted or pitted?"))
    dish = QuantityField(
        LENGTH, required=False, label=gettext_lazy("Largest gap under the groove gauge"),
        help_text=hint(LENGTH, gettext_lazy("Leave empty without a gauge.")),
    )  # fmt: skip
    tool = tool_field(DISH_TOOLS)

    def clean(self) -> None:
        seen = [self.cleaned_data.get(name) for name in ("shines", "step", "corroded")]
        if not self.errors and not any(seen) and self.cleaned_data.get("dish") is None:
            self.add_error("shines", gettext("Say what you saw, or give the gap under the gauge."))

    def told(self) -> dict[str, Any]:
        given = self.cleaned_data
        dish: Typed | None = given["dish"]
        return {
            "pulley": given["pulley"],
            "dish": dish,
            "tool": given["tool"] if dish is not None else "",
            **{name: _ANSWERS[given[name]] for name in ("shines", "step", "corroded")},
        }

    @staticmethod
    def begins_with(row: BeltReading, told: dict[str, Any]) -> dict[str, Any]:
        found = {name: told[name] if told[name] in (YES, NO) else UNSURE
                 for name in ("shines", "step", "corroded")}  # fmt: skip
        more = {"tool": told["tool"]} if told["tool"] else {}
        return {"pulley": told["pulley"], "dish": typed_in(told, "dish"), **found, **more}


class TakeOutForm(EntryForm):
    reason = words_field(gettext_lazy("Why it is put right"), high=MOST_REASON, rows=2)


def typed_in(told: dict[str, Any], name: str) -> str:
    """What was typed for a figure of a sealed reading."""
    return str(told[name]["typed"]) if told.get(name) else ""


def begins_with(form: type[ReadingForm], row: BeltReading) -> dict[str, Any]:
    """What a form begins with when it puts a reading right."""
    return form.begins_with(row, json.loads(row.record.content)["data"])
