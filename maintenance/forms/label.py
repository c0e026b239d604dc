"""Replacing a label's link."""

from django import forms

from maintenance.forms.entry import EntryForm, words_field
from plant.lazy_text import gettext_lazy as _


class ReplaceLabelForm(EntryForm):
    """Why, and whether the four characters go too."""

    reason = words_field(
        _("Why it is replaced"), high=400, rows=2,
        help_text=_("Lost, stolen or copied. 10 letters or more. It stands on record."),
    )  # fmt: skip
    short_code_too = forms.BooleanField(
        label=_("Replace the four characters as well"),
        help_text=_("Only if somebody knows them who should not."),
        required=False,
    )
