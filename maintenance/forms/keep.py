"""Holding back a machine's words and photos, and releasing them."""

from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.actions.keep import LONGEST_REASON, SHORTEST_REASON
from maintenance.forms.entry import EntryForm, words_field
from plant.lazy_text import gettext_lazy as _
from plant.models import Machine, User
from plant.rights import Right
from plant.text import TextRefused, number_key


class ReleaseHoldForm(EntryForm):
    reason = words_field(
        _("Reason"), high=LONGEST_REASON, rows=2, min_length=SHORTEST_REASON,
        help_text=_("Sealed with your name. For example: the claim is settled."),
    )  # fmt: skip


class HoldForm(EntryForm):
    number = forms.CharField(label=_("Machine number"), max_length=40)
    reason = words_field(
        _("Reason"), high=LONGEST_REASON, rows=2, min_length=SHORTEST_REASON,
        help_text=_("Sealed with your name. For example: a claim is running."),
    )  # fmt: skip

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        self.user = user

    def clean_number(self) -> Machine:
        typed = self.cleaned_data["number"]
        try:
            key = number_key(typed)
        except TextRefused as wrong:
            raise forms.ValidationError(str(wrong)) from wrong
        seen = Machine.objects.visible_to(self.user, Right.KEEP).select_related("depot")
        machine = seen.filter(number_key=key).first()
        if machine is None:
            raise forms.ValidationError(gettext("No machine of your depots has this number."))
        return machine
