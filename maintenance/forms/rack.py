"""Parts and their stock: entering, receiving, counting, moving, pricing, ordering."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.timezone import localdate

from maintenance.actions.rack import MOST_LEAD_DAYS, MOST_PIECES
from maintenance.forms.cost import MoneyField
from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.forms.filters import DepotFilter
from maintenance.models import Part, StockPlace
from maintenance.rules.rack import MOST, USUAL_LEAD_DAYS
from plant.drives.sections import SECTIONS
from plant.fields import QuantityField, WholeField
from plant.models import Depot, User
from plant.rights import Right, depots_where
from plant.units import LENGTH, Typed


class RackFilter(DepotFilter):
    LOW, BELTS, SMALL, WITHDRAWN = "low", "belts", "small", "withdrawn"
    q = forms.CharField(required=False, max_length=100, label="Name, mark or any number")
    only = forms.ChoiceField(
        required=False,
        label="Only",
        choices=[
            ("", "All parts"),
            (LOW, "Too few on hand"),
            (BELTS, "Belts"),
            (SMALL, "Small parts"),
            (WITHDRAWN, "Withdrawn"),
        ],
    )


class PartForm(EntryForm):
    """A belt by its mark, or a small part by its name."""

    name = forms.CharField(
        max_length=60,
        label="Mark of the belt, or name of the part",
        help_text="A26, SPZ 1000, or for example “Grease, one cartridge”.",
    )
    is_belt = forms.BooleanField(required=False, label="It is a belt", initial=True)
    section = forms.ChoiceField(
        required=False,
        label="Belt section, by hand",
        help_text="Where the mark does not say it.",
        choices=[("", "Read it from the mark"), *((code, code) for code in SECTIONS)],
    )
    length = QuantityField(
        LENGTH, required=False, label="Datum length, by hand", keypad="text",
        help_text="For 3V, 5V, 8V and ribbed belts the effective length, for 2L to 5L the outside.",
    )  # fmt: skip
    bought_from = forms.CharField(
        max_length=60, required=False, label="Where it is bought",
        help_text="The shopping list is grouped by it.",
    )  # fmt: skip
    lead_days = WholeField(
        required=False, min_value=0, max_value=MOST_LEAD_DAYS, label="Days from order to rack",
        help_text=f"Left empty: of a belt as the depot has it, else {USUAL_LEAD_DAYS}, a guess.",
    )  # fmt: skip
    depot = forms.ModelChoiceField(Depot.objects.none(), label="Depot", empty_label=None)

    def __init__(self, *args: Any, user: User, part: Part | None = None, **more: Any) -> None:
        super().__init__(*args, **more)
        if part is not None:
            del self.fields["depot"]  # a part stays at its depot
            return
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.STOCK))

    def told(self) -> dict[str, Any]:
        """What the action takes."""
        given = self.cleaned_data
        length: Typed | None = given["length"]
        return {
            "name": given["name"],
            "is_belt": given["is_belt"],
            "section": given["section"],
            "length_m": length.value_si if length else None,
            "bought_from": given["bought_from"],
            "lead_days": given["lead_days"],
        }


class _AtDepot(EntryForm):
    """A form with places of one depot to choose from."""

    places: tuple[str, ...] = ()

    def __init__(self, *args: Any, depot_id: int, **more: Any) -> None:
        super().__init__(*args, **more)
        for name in self.places:
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = StockPlace.objects.kept().filter(depot=depot_id)


def _place(label: str) -> "forms.ModelChoiceField[StockPlace]":
    return forms.ModelChoiceField(StockPlace.objects.none(), label=label, empty_label=None)


class ReceiveForm(_AtDepot):
    places = ("to",)
    quantity = WholeField(label="How many came", min_value=1, max_value=MOST_PIECES)
    to = _place("Where they lie now")
    on = DayField(label="Came on", initial=localdate)


class MovePartForm(_AtDepot):
    places = ("source", "target")
    quantity = WholeField(label="How many", min_value=1, max_value=MOST_PIECES, initial=1)
    source = _place("From")
    target = _place("To")


class PartNumberForm(EntryForm):
    number = forms.CharField(max_length=60, label="Number")
    note = words_field(
        "Why it is the same part", high=200, rows=2, required=False,
        help_text="Superseded by, same size as; who measured it.",
    )  # fmt: skip


class PriceForm(EntryForm):
    price = MoneyField(label="Price of one", required=False, help_text="Empty: not known.")


class StockPlaceForm(EntryForm):
    name = forms.CharField(
        max_length=40, label="Name", help_text="As people call it: Main rack, Van 2."
    )
    kind = forms.ChoiceField(label="What it is", choices=StockPlace.Kind.choices)
    depot = forms.ModelChoiceField(Depot.objects.none(), label="Depot", empty_label=None)

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.KEEP_PARTS))


class CountForm(EntryForm):
    """A box for each part; an empty one was not counted."""

    def __init__(self, *args: Any, parts: Sequence[tuple[Part, int]], **more: Any) -> None:
        super().__init__(*args, **more)
        self.keys = [part.pk for part, _ in parts]
        for part, there in parts:
            self.fields[f"count_{part.pk}"] = WholeField(
                label=part.name, required=False, min_value=0, max_value=MOST,
                help_text=f"By the moves since: {there}.",
            )  # fmt: skip

    def counts(self) -> dict[int, int]:
        given = {pk: self.cleaned_data.get(f"count_{pk}") for pk in self.keys}
        return {pk: count for pk, count in given.items() if count is not None}


class TakeForm(EntryForm):
    """One press beside a part and a place; sent again it takes nothing more."""

    part = forms.ModelChoiceField(Part.objects.none())
    place = forms.ModelChoiceField(StockPlace.objects.none())
    quantity = WholeField(min_value=1, max_value=MOST_PIECES)

    def __init__(self, *args: Any, depot_id: int, **more: Any) -> None:
        super().__init__(*args, **more)
        for name, rows in (("part", Part.objects.kept()), ("place", StockPlace.objects.kept())):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows.filter(depot=depot_id)


class PiecesForm(EntryForm):
    """How many, where the rest is known."""

    quantity = WholeField(label="How many", min_value=1, max_value=MOST_PIECES, initial=1)
