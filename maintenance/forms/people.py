"""Giving a competence, and ending one."""

from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.models import Skill
from plant.lazy_text import gettext_lazy as _
from plant.models import MachineKind


class GiveForm(EntryForm):
    skill = forms.ChoiceField(label=_("For what work"), choices=Skill.choices)
    family = forms.ChoiceField(label=_("For which machines"), required=False)
    valid_from = DayField(label=_("From"))
    valid_until = DayField(
        label=_("Last day"), required=False, help_text=_("Empty where the certificate has none.")
    )
    told = words_field(
        _("Certificate, or what you saw of their work"), high=200, rows=2,
        help_text=_("For example the number of a card, or who watched the work."),
    )  # fmt: skip

    def __init__(self, *args: Any, for_oneself: bool, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["family"]
        assert isinstance(field, forms.ChoiceField)
        families = MachineKind.objects.order_by("family").values_list("family", flat=True)
        field.choices = [
            ("", gettext("Every family of machines")),
            *((each, each.replace("_", " ").capitalize()) for each in families.distinct()),
        ]
        if for_oneself:
            self.fields["reason"] = words_field(
                gettext("Why can nobody else give it?"),
                high=400,
                rows=2,
                required=False,
                help_text=gettext(
                    "Only in a one-person depot, in 10 letters or more. It stands on record."
                ),
            )


class EndForm(EntryForm):
    because = words_field(_("Why it ends"), high=200, rows=2)
