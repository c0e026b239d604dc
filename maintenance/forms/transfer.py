"""A machine sent to another depot, received, turned back."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils.translation import gettext

from maintenance.forms.entry import EntryForm, words_field
from plant.lazy_text import gettext_lazy
from plant.models import Depot, Machine, User
from plant.rights import Right, depots_where


class SendForm(EntryForm):
    """To which depot, and what goes with it. Depots of one's own are offered, others are typed."""

    to = forms.CharField(
        label=gettext_lazy("To which depot"),
        max_length=80,
        help_text=gettext_lazy("Its name or its code."),
        widget=forms.TextInput(attrs={"list": "depots", "autocomplete": "off"}),
    )
    went_with = words_field(gettext_lazy("What goes with it"), high=400, rows=2, required=False)

    def __init__(self, *args: Any, machine: Machine, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        known = Depot.objects.filter(pk__in=depots_where(user, Right.SEE))
        self.depots = known.exclude(pk=machine.depot_id)

    def clean_to(self) -> Depot:
        typed = self.cleaned_data["to"]
        real = Depot.objects.real()
        depot = real.filter(Q(code__iexact=typed) | Q(name__iexact=typed)).first()
        if depot is None:
            raise ValidationError(gettext("No depot has this name or code. Look at its paper."))
        return depot


class ReceiveForm(EntryForm):
    """Where it stands now, and how it came."""

    where = forms.ChoiceField(
        label=gettext_lazy("Where does it stand now?"),
        choices=(("yard", gettext_lazy("In yard")), ("workshop", gettext_lazy("In workshop"))),
        initial="yard",
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    came_with = words_field(gettext_lazy("What came with it"), high=400, rows=2, required=False)
    condition = words_field(gettext_lazy("Condition"), high=400, rows=2, required=False)


class TurnBackForm(EntryForm):
    reason = words_field(gettext_lazy("Why it comes back"), high=400, rows=2)
