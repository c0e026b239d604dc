"""The filters over the lists; each says in words what it does, and stands in the address."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext

from maintenance.contents.fleet import USES
from maintenance.contents.held import NEXT
from maintenance.models import BeltLife
from plant.contents.workout import VERDICTS
from plant.lazy_text import gettext_lazy
from plant.models import Depot, MachineKind, Place, User
from plant.rights import Right, depots_of, depots_where


class Filter(forms.Form):
    """What any list is filtered by."""

    def kept(self) -> dict[str, Any]:
        """What is set; one that cannot be read is left off, and said so beside its field."""
        self.is_valid()
        return self.cleaned_data

    def chosen(self) -> list[str]:
        """What is set, each in words, for the line behind which the filters are folded."""
        given = getattr(self, "cleaned_data", {})
        return [self._told(name, value) for name, value in given.items() if value]

    def _told(self, name: str, value: Any) -> str:
        field, label = self.fields[name], str(self[name].label)
        if isinstance(field, forms.BooleanField):
            return label
        if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
            words: Any = field.choices
            value = dict(words)[value]
        return f"{label}: {value}"


class DepotFilter(Filter):
    """One depot of the person's own, or all of them."""

    depot = forms.ModelChoiceField(
        Depot.objects.none(),
        required=False,
        empty_label=gettext_lazy("All depots"),
        label=gettext_lazy("Depot"),
    )

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.SEE))
        # Read with the person's roles already; the choice itself is looked up as any other.
        field.choices = [
            ("", field.empty_label),
            *((each.pk, str(each)) for each in depots_of(user)),
        ]


class OneDepot(forms.Form):
    """One of the depots where the person has a right; the first, where none is chosen."""

    depot = forms.ModelChoiceField(
        Depot.objects.none(), required=False, empty_label=None, label=gettext_lazy("Depot")
    )

    def __init__(self, *args: Any, depots: QuerySet[Depot], **more: Any) -> None:
        super().__init__(*args, **more)
        self.depots = depots
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = depots

    def chosen(self) -> Depot:
        depot: Depot | None = self.cleaned_data.get("depot") if self.is_valid() else None
        return depot or self.depots[0]


class MachineFilter(DepotFilter):
    q = forms.CharField(
        required=False, max_length=100, label=gettext_lazy("Number, kind, site or hirer")
    )
    kind = forms.ModelChoiceField(
        MachineKind.objects.all(),
        required=False,
        empty_label=gettext_lazy("All kinds"),
        label=gettext_lazy("Kind"),
    )
    place = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Where it is"),
        choices=[("", gettext_lazy("Anywhere but gone")), *Place.choices],
    )
    use = forms.ChoiceField(
        required=False,
        label=gettext_lazy("May it be used"),
        choices=[("", gettext_lazy("Any")), *USES.items()],
    )
    check = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Check before use"),
        choices=[
            ("", gettext_lazy("Any")),
            ("overdue", gettext_lazy("Overdue, and the machine is out")),
        ],
    )


class ElsewhereFilter(Filter):
    """Over machines of other depots, by what is told of them."""

    q = forms.CharField(required=False, max_length=100, label=gettext_lazy("Number, kind or depot"))
    kind = forms.ModelChoiceField(
        MachineKind.objects.all(),
        required=False,
        empty_label=gettext_lazy("All kinds"),
        label=gettext_lazy("Kind"),
    )
    depot = forms.ChoiceField(required=False, label=gettext_lazy("Depot"))
    place = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Where it is"),
        choices=[
            ("", gettext_lazy("Anywhere but gone")),
            *(each for each in Place.choices if each[0] != Place.GONE),
        ],
    )
    can = forms.BooleanField(required=False, label=gettext_lazy("Can go out"))

    def __init__(self, *args: Any, depots: Iterable[Depot], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["depot"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            ("", gettext("All of them")),
            *((str(each.pk), each.name) for each in depots),
        ]


class HeldFilter(DepotFilter):
    q = forms.CharField(
        required=False, max_length=100, label=gettext_lazy("Number, kind, site or hirer")
    )
    place = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Where it is"),
        choices=[("", gettext_lazy("Anywhere but gone")), *Place.choices],
    )
    step = forms.ChoiceField(
        required=False,
        label=gettext_lazy("What comes next"),
        choices=[
            ("", gettext_lazy("Any")),
            *((step, gettext_lazy(word)) for step, word in NEXT.items()),
        ],
    )


class DueFilter(DepotFilter):
    OVERDUE, STORE, SOON = "overdue", "store", "soon"
    state = forms.ChoiceField(
        required=False,
        label=gettext_lazy("How it stands"),
        choices=[
            ("", gettext_lazy("All that is due")),
            (OVERDUE, gettext_lazy("Overdue, and the machine is out")),
            (STORE, gettext_lazy("Needed before use: the machine is in")),
            (SOON, gettext_lazy("Due soon")),
        ],
    )
    q = forms.CharField(required=False, max_length=80, label=gettext_lazy("Machine number"))


class ElectricalFilter(DepotFilter):
    FAILED, DOUBT, DUE, NEVER = "failed", "doubt", "due", "never"
    state = forms.ChoiceField(
        required=False,
        label=gettext_lazy("How it stands"),
        choices=[
            ("", gettext_lazy("All that are tested")),
            (FAILED, gettext_lazy("The last test failed")),
            (DOUBT, gettext_lazy("A test is in doubt: test again")),
            (DUE, gettext_lazy("The day of the next test has passed")),
            (NEVER, gettext_lazy("Not tested yet")),
        ],
    )
    q = forms.CharField(required=False, max_length=80, label=gettext_lazy("Number, serial or kind"))


class InstrumentFilter(DepotFilter):
    q = forms.CharField(required=False, max_length=100, label=gettext_lazy("Name or serial"))


class BeltFilter(DepotFilter):
    NOT_READ = "not measured"
    verdict = forms.ChoiceField(
        required=False,
        label=gettext_lazy("Last verdict"),
        choices=[
            ("", gettext_lazy("Any")),
            *((verdict.value, gettext_lazy(words)) for verdict, (words, _) in VERDICTS.items()),
            (NOT_READ, gettext_lazy("This belt was not measured yet")),
        ],
    )
    q = forms.CharField(
        required=False, max_length=100, label=gettext_lazy("Machine number or mark on the belt")
    )


class RunningOutFilter(DepotFilter):
    ORDER = "order"
    state = forms.ChoiceField(
        required=False,
        label=gettext_lazy("How it stands"),
        choices=[
            ("", gettext_lazy("Any")),
            (ORDER, gettext_lazy("To order now: the order day has come")),
            *BeltLife.State.choices,
        ],
    )
    q = forms.CharField(
        required=False, max_length=80, label=gettext_lazy("Machine number or mark on the belt")
    )
