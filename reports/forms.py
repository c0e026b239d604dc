"""The form that asks for many sheets."""

from datetime import datetime
from typing import Any

from django import forms

from maintenance.contents.due import announced
from plant.models import Depot, Machine, User
from plant.rights import Right, depots_where
from plant.text import TextRefused, number_key
from reports.actions.sheet import MOST_SHEETS


class BatchForm(forms.Form):
    """Which machines of one depot get a service sheet."""

    DUE, LISTED = "due", "listed"
    depot = forms.ModelChoiceField(Depot.objects.none(), empty_label=None)
    which = forms.ChoiceField(
        label="Machines",
        choices=((DUE, "All that are due soon or past"), (LISTED, "The numbers written below")),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
        initial=DUE,
    )
    numbers = forms.CharField(
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 5}),
        label="Machine numbers",
        help_text=f"One a line, or with a space or comma between; at most {MOST_SHEETS}.",
    )

    def __init__(self, *args: Any, user: User, at: datetime, **more: Any) -> None:
        super().__init__(*args, **more)
        self.user, self.at = user, at
        depots = Depot.objects.filter(pk__in=depots_where(user, Right.PRINT_MANY))
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = depots
        self.initial.setdefault("depot", depots.first())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        depot, which = cleaned.get("depot"), cleaned.get("which")
        if depot is None or which is None:
            return cleaned
        if which == self.DUE:
            self._due(depot)
        else:
            self._listed(depot, cleaned.get("numbers", ""))
        return cleaned

    def machines(self) -> list[Machine]:
        """The machines asked for, in the order of their numbers."""
        return self._machines

    def _due(self, depot: Depot) -> None:
        on = depot.day_of(self.at)
        due = announced(self.user, on).filter(machine__depot=depot).order_by()
        self._machines = list(
            Machine.objects.filter(pk__in=due.values("machine")).order_by("number_key")[
                : MOST_SHEETS + 1
            ]
        )
        if not self._machines:
            self.add_error("which", f"Nothing is due at {depot}. Write machine numbers instead.")

    def _listed(self, depot: Depot, numbers: str) -> None:
        wanted: dict[str, str] = {}
        for written in numbers.replace(",", "\n").replace(";", "\n").splitlines():
            if not written.strip():
                continue
            try:
                wanted[number_key(written)] = written.strip()
            except TextRefused as refused:
                self.add_error("numbers", str(refused))
                return
        if not wanted:
            self.add_error("numbers", "Write at least one machine number.")
            return
        self._machines = list(
            Machine.objects.filter(depot=depot, number_key__in=wanted).order_by("number_key")
        )
        missing = wanted.keys() - {machine.number_key for machine in self._machines}
        if missing:
            named = ", ".join(sorted(wanted[key] for key in missing)[:10])
            self.add_error("numbers", f"Not at {depot}: {named}. Nothing was asked for.")
