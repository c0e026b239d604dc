"""The find box: any words, cleaned and of a bounded length."""

from django import forms
from django.core.exceptions import ValidationError

from maintenance.contents.find import LONGEST
from plant.lazy_text import gettext_lazy as _
from plant.text import TextRefused, clean


class FindForm(forms.Form):
    q = forms.CharField(label=_("Find"), required=False)

    def clean_q(self) -> str:
        try:
            return clean(self.cleaned_data["q"], high=LONGEST, lines=False)
        except TextRefused as refused:
            raise ValidationError(str(refused)) from refused
