"""The forms of shared phones: a place for one, its enrolment, codes, and signing in by them."""

from collections.abc import Callable
from functools import partial
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from plant import phone_codes
from plant.actions.phone import people_on_phones
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, Phone, User
from plant.rights import Right, depots_where


def code_field(label: str, **given: Any) -> forms.CharField:
    """Six figures, hidden as they are typed, with the keys for figures."""
    attrs = {"inputmode": "numeric", "autocomplete": "off", "pattern": "[0-9]*"}
    widget = forms.PasswordInput(attrs=attrs | {"maxlength": str(phone_codes.FIGURES)})
    return forms.CharField(label=label, max_length=20, widget=widget, **given)


class AskPhoneForm(forms.Form):
    name = forms.CharField(
        label=_("Name of the phone"),
        max_length=40,
        help_text=_("After its box or van, for example Site box 2. Not after a person."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    depot = forms.ModelChoiceField(Depot.objects.none(), empty_label=None, label=_("Depot"))

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.PEOPLE))


class EnrolForm(forms.Form):
    code = forms.CharField(
        label=_("Code"),
        max_length=64,
        help_text=_("The twelve letters and figures that the manager sees."),
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )


class NewCodeForm(forms.Form):
    """A code of one's own, typed twice."""

    new_code = code_field(
        _("Your new code"), help_text=_("Six figures that only you know. Not a birthday.")
    )
    again = code_field(_("The same again"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        code, again = cleaned.get("new_code"), cleaned.get("again")
        if code and again and code != again:
            self.add_error("again", gettext("This is not the same. Type both again."))
        return cleaned


class OwnCodeForm(NewCodeForm):
    """Asks first for what the person signed in with: the page may have been left open."""

    proof = forms.CharField(
        label=_("Your password"),
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    field_order = ("proof", "new_code", "again")

    def __init__(self, *args: Any, on_phone: bool, **more: Any) -> None:
        super().__init__(*args, **more)
        if on_phone:
            self.fields["proof"] = code_field(gettext("Your code now"))
        self.order_fields(self.field_order)


class CodeSignInForm(forms.Form):
    """A person of the depot by name, and their six figures."""

    # Whoever is named is answered alike, so what is sent is not held against the list.
    person = forms.IntegerField(label=_("Your name"), min_value=1, max_value=2**31)
    code = code_field(_("Your code"))

    def __init__(self, *args: Any, people: list[tuple[int, str]], **more: Any) -> None:
        super().__init__(*args, **more)
        choices = [("", gettext("Choose your name")), *people]
        self.fields["person"].widget = forms.Select(choices=choices)


class FirstCodeForm(CodeSignInForm, NewCodeForm):
    """A first code is changed before anything else."""

    field_order = ("person", "code", "new_code", "again")
    code = code_field(_("Your first code, once more"))

    def clean_new_code(self) -> str:
        code: str = self.cleaned_data["new_code"]
        if refused := phone_codes.refusal(code):
            raise ValidationError(refused, code="easy")
        return code


def code_form(phone: Phone, changes: bool = False) -> Callable[..., CodeSignInForm]:
    """The form of this phone, with the names of its depot."""
    people = list(people_on_phones(phone.depot_id).values_list("pk", "name"))
    return partial(FirstCodeForm if changes else CodeSignInForm, people=people)
