"""Every kind of field in one form, for the page that shows what pages are put together from."""

from django import forms

from plant.fields import QuantityField
from plant.units import LENGTH, WIDTH


class EveryField(forms.Form):
    """Each field as pages have it; nothing is ever sent."""

    name = forms.CharField(label="A line of words", max_length=80)
    width = QuantityField(WIDTH, label="A figure with its unit")
    reach = QuantityField(LENGTH, label="A figure that may stay empty", required=False)
    on = forms.DateField(label="A day", widget=forms.DateInput(attrs={"type": "date"}))
    kind = forms.ChoiceField(
        label="One of many", choices=[("", "Choose one"), ("mixer", "Mixer"), ("saw", "Saw")]
    )
    state = forms.ChoiceField(
        label="An answer",
        help_text="Large, for a thumb in a glove.",
        choices=[("ok", "OK"), ("wrong", "Wrong"), ("unknown", "Could not check")],
        widget=forms.RadioSelect(attrs={"class": "answers"}),
    )
    where = forms.ChoiceField(
        label="One of a few",
        choices=[("yard", "In the yard"), ("site", "On a site")],
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    words = forms.CharField(
        label="Several lines",
        help_text="A hint stands between the label and its field.",
        widget=forms.Textarea,
    )
    photo = forms.FileField(label="A file", required=False)
    sure = forms.BooleanField(label="A tick, with what it means said in full")
    locked = forms.CharField(label="Not to be changed here", disabled=True, initial="MX-000")


FILLED = {
    "name": "Mixer by the north gate", "width": "12.4 mm", "reach": "5/16 in", "on": "2026-11-25",
    "kind": "mixer", "state": "ok", "where": "site", "words": "Sheath whole, plug tight.",
    "sure": "on",
}  # fmt: skip
# Each entry is one that a person might make; none is kept.
WRONG = {"name": "", "width": "12,4", "reach": "40 bananas", "on": "", "words": ""}
