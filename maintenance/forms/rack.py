"""Parts and their stock: entering, receiving, counting, moving, pricing, ordering."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.timezone import localdate
from django.utils.translation import gettext

from maintenance.actions.rack import MOST_LEAD_DAYS, MOST_PIECES
from maintenance.forms.cost import MoneyField
from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.forms.filters import DepotFilter
from maintenance.models import Part, StockPlace
from maintenance.rules.rack import MOST, USUAL_LEAD_DAYS
from plant.drives.sections import SECTIONS
from plant.fields import QuantityField, WholeField
from plant.lazy_text import filled, gettext_lazy
from plant.models import Depot, User
from plant.rights import Right, depots_where
from plant.units import LENGTH, Typed


class RackFilter(DepotFilter):
    LOW, BELTS, SMALL, WITHDRAWN = "low", "belts", "small", "withdrawn"
    q = forms.CharField(
        required=False, max_length=100, label=gettext_lazy("Name, mark or any number")
    )
    only = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Only"),
        choices=[
            ("", gettext_lazy("All parts")),
            (LOW, gettext_lazy("Too few on hand")),
            (BELTS, gettext_lazy("Belts")),
            (SMALL, gettext_lazy("Small parts")),
            (WITHDRAWN, gettext_lazy("Withdrawn")),
        ],
    )


class PartForm(EntryForm):
    """A belt by its mark, or a small part by its name."""

    name = forms.CharField(
        max_length=60,
        label=gettext_lazy("Mark of the belt, or name of the part"),
        help_text=gettext_lazy("A26, SPZ 1000, or for example “Grease, one cartridge”."),
    )
    is_belt = forms.BooleanField(required=False, label=gettext_lazy("It is a belt"), initial=True)
    section = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Belt section, by hand"),
        help_text=gettext_lazy("Where the mark does not say it."),
        choices=[("", gettext_lazy("Read it from the mark")), *((code, code) for code in SECTIONS)],
    )
    length = QuantityField(
        LENGTH,
        required=False,
        label=gettext_lazy("Datum length, by hand"),
        keypad="text",
        help_text=gettext_lazy(
            "For 3V, 5V, 8V and ribbed belts the effective length, for 2L to 5L the outside."
        ),
    )
    bought_from = forms.CharField(
        max_length=60, required=False, label=gettext_lazy("Where it is bought"),
        help_text=gettext_lazy("The shopping list is grouped by it."),
    )  # fmt: skip
    lead_days = WholeField(
        required=False,
        min_value=0,
        max_value=MOST_LEAD_DAYS,
        label=gettext_lazy("Days from order to rack"),
        help_text=filled(
            gettext_lazy("Left empty: of a belt as the depot has it, else {days}, a guess."),
            days=USUAL_LEAD_DAYS,
        ),
    )
    depot = forms.ModelChoiceField(
        Depot.objects.none(), label=gettext_lazy("Depot"), empty_label=None
    )

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
    quantity = WholeField(label=gettext_lazy("How many came"), min_value=1, max_value=MOST_PIECES)
    to = _place(gettext_lazy("Where they lie now"))
    on = DayField(label=gettext_lazy("Came on"), initial=localdate)


class MovePartForm(_AtDepot):
    places = ("source", "target")
    quantity = WholeField(
        label=gettext_lazy("How many"), min_value=1, max_value=MOST_PIECES, initial=1
    )
    source = _place(gettext_lazy("From"))
    target = _place(gettext_lazy("To"))


class PartNumberForm(EntryForm):
    number = forms.CharField(max_length=60, label=gettext_lazy("Number"))
    note = words_field(
        gettext_lazy("Why it is the same part"), high=200, rows=2, required=False,
        help_text=gettext_lazy("Superseded by, same size as; who measured it."),
    )  # fmt: skip


class PriceForm(EntryForm):
    price = MoneyField(
        label=gettext_lazy("Price of one"),
        required=False,
        help_text=gettext_lazy("Empty: not known."),
    )


class StockPlaceForm(EntryForm):
    name = forms.CharField(
        max_length=40,
        label=gettext_lazy("Name"),
        help_text=gettext_lazy("As people call it: Main rack, Van 2."),
    )
    kind = forms.ChoiceField(label=gettext_lazy("What it is"), choices=StockPlace.Kind.choices)
    depot = forms.ModelChoiceField(
        Depot.objects.none(), label=gettext_lazy("Depot"), empty_label=None
    )

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
                help_text=gettext("By the moves since: {there}.").format(there=there),
            )  # fmt: skip

    def counts(self) -> dict[int, int]:
        given = {pk: self.cleaned_data.get(f"count_{pk}") for pk in self.keys}
        return {pk: count for pk, count in given.items() if count is not None}


class TakeForm(EntryForm):
    """One press beside a part and a place; sent again it takes nothing more."""

    part = forms.ModelChoiceField(Part.objects.none(), label=gettext_lazy("Part"))
    place = forms.ModelChoiceField(StockPlace.objects.none(), label=gettext_lazy("Place"))
    quantity = WholeField(min_value=1, max_value=MOST_PIECES, label=gettext_lazy("Quantity"))

    def __init__(self, *args: Any, depot_id: int, **more: Any) -> None:
        super().__init__(*args, **more)
        for name, rows in (("part", Part.objects.kept()), ("place", StockPlace.objects.kept())):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows.filter(depot=depot_id)


class PiecesForm(EntryForm):
    """How many, where the rest is known."""

    quantity = WholeField(
        label=gettext_lazy("How many"), min_value=1, max_value=MOST_PIECES, initial=1
    )
