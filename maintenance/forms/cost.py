"""Money as people type it, the costs of a job, and the rates of a depot."""

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from maintenance.forms.entry import DayField, EntryForm
from maintenance.models import MoneySetting, PartUsed
from plant.lazy_text import gettext_lazy as _


class MoneyField(forms.CharField):
    """An amount of money: figures, and a point before at most two more. Never a float."""

    def __init__(self, **given: Any) -> None:
        attrs = {"inputmode": "decimal", "autocomplete": "off"}
        super().__init__(max_length=12, widget=forms.TextInput(attrs=attrs), **given)

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value).strip(" ")
        if not text:
            return None
        if "," in text:
            raise ValidationError(
                gettext("Use a point for decimals, for example 12.50."), code="comma"
            )
        if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,2})?", text, re.ASCII):
            raise ValidationError(
                gettext("Write an amount like 12.50, up to 999999.99."), code="form"
            )
        return Decimal(text)


class JobCostsForm(EntryForm):
    """A price for each part that has none, and what an outside repairer charged."""

    def __init__(self, *args: Any, parts: Sequence[PartUsed], currency: str, **more: Any) -> None:
        super().__init__(*args, **more)
        self.parts = parts
        for part in parts:
            self.fields[f"price_{part.pk}"] = MoneyField(
                label=gettext("{what}: price of one, in {currency}").format(
                    what=part.what, currency=currency
                ),
                required=False,
            )
        self.fields["outside"] = forms.CharField(
            label=gettext("Outside repair: what was done"), required=False, max_length=120
        )
        self.fields["outside_amount"] = MoneyField(
            label=gettext("What it cost, in {currency}").format(currency=currency), required=False
        )

    def prices(self) -> dict[int, Decimal]:
        given = {part.pk: self.cleaned_data.get(f"price_{part.pk}") for part in self.parts}
        return {pk: amount for pk, amount in given.items() if amount is not None}


class MoneyForm(EntryForm):
    currency = forms.CharField(
        label=_("Currency, three letters"), max_length=3, min_length=3, initial=_("GBP"),
        help_text=_("After ISO 4217, for example GBP or EUR."),
        validators=[MoneySetting._meta.get_field("currency").validators[0]],
    )  # fmt: skip
    rate = MoneyField(label=_("An hour of work costs"), required=False)
    from_on = DayField(label=_("From this day on"), required=False)
    foremen_see = forms.BooleanField(label=_("Foremen see and enter money too"), required=False)
