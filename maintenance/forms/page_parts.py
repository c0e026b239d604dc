"""Every kind of field in one form, for the page that shows what pages are put together from."""

from django import forms

from plant.fields import QuantityField
from plant.lazy_text import gettext_lazy as _
from plant.units import LENGTH, WIDTH


class EveryField(forms.Form):
    """Each field as pages have it; nothing is ever sent."""

    name = forms.CharField(label=_("A line of words"), max_length=80)
    width = QuantityField(WIDTH, label=_("A figure with its unit"))
    reach = QuantityField(LENGTH, label=_("A figure that may stay empty"), required=False)
    on = forms.DateField(label=_("A day"), widget=forms.DateInput(attrs={"type": "date"}))
    kind = forms.ChoiceField(
        label=_("One of many"),
        choices=[("", _("Choose one")), ("mixer", _("Mixer")), ("saw", _("Saw"))],
    )
    state = forms.ChoiceField(
        label=_("An answer"),
        help_text=_("Large, for a thumb in a glove."),
        choices=[("ok", "OK"), ("wrong", _("Wrong")), ("unknown", _("Could not check"))],
        widget=forms.RadioSelect(attrs={"class": "answers"}),
    )
    where = forms.ChoiceField(
        label=_("One of a few"),
        choices=[("yard", _("In the yard")), ("site", _("On a site"))],
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    words = forms.CharField(
        label=_("Several lines"),
        help_text=_("A hint stands between the label and its field."),
        widget=forms.Textarea,
    )
    photo = forms.FileField(label=_("A file"), required=False)
    sure = forms.BooleanField(label=_("A tick, with what it means said in full"))
    locked = forms.CharField(label=_("Not to be changed here"), disabled=True, initial="MX-000")


FILLED = {
    "name": _("Mixer by the north gate"),
    "width": "12.4 mm",
    "reach": "5/16 in",
    "on": "2026-11-25",
    "kind": "mixer",
    "state": "ok",
    "where": "site",
    "words": _("Sheath whole, plug tight."),
    "sure": "on",
}
# Each entry is one that a person might make; none is kept.
WRONG = {"name": "", "width": "12,4", "reach": "40 bananas", "on": "", "words": ""}
