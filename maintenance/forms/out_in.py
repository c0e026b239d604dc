"""Can it go?"""

from django import forms

from plant.lazy_text import gettext_lazy


class CanGoForm(forms.Form):
    """Three figures of a machine's number are enough."""

    q = forms.CharField(
        label=gettext_lazy("Machine"),
        required=False,
        max_length=80,
        help_text=gettext_lazy("Three figures of its number, its nickname or serial."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "type": "search"}),
    )
