"""The one field of Scan."""

from django import forms

from plant.lazy_text import gettext_lazy as _


class ScanForm(forms.Form):
    """Four characters, or a machine's number."""

    code = forms.CharField(
        label=_("Code or machine number"),
        max_length=80,
        help_text=_("The four characters beside Code on the label, or the large number."),
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )
