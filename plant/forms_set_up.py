"""The form by which a new firm begins."""

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.utils.translation import gettext

from plant.fields import WordsField
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot

CODE_LETTERS = _("Only letters a to z and figures, such as qm.")


def _zones() -> list[tuple[str, str]]:
    """Places of the world's clocks; what is written without a place is left out, but for UTC."""
    return [(each, each) for each in sorted(available_timezones()) if "/" in each or each == "UTC"]


class SetUpForm(forms.Form):
    """Three parts: the firm and its first depot, how checks are done, who looks after it all."""

    firm = WordsField(
        label=_("Name of the firm"),
        high=80,
        widget=forms.TextInput(attrs={"autocomplete": "organization"}),
    )
    depot = WordsField(
        label=_("Name of the first depot"),
        high=80,
        help_text=_("The yard or workshop where the machines stand. More can be added later."),
    )
    code = forms.SlugField(
        label=_("Its short code"),
        max_length=Depot._meta.get_field("code").max_length,
        help_text=_(
            "2 to 12 small letters or figures, such as qm. It begins the number of every "
            "record and cannot be changed."
        ),
        min_length=2,
        error_messages={"invalid": CODE_LETTERS},
        widget=forms.TextInput(attrs={"autocapitalize": "none", "spellcheck": "false"}),
    )
    time_zone = forms.ChoiceField(
        label=_("Whose clock the depot goes by"),
        choices=_zones,
        initial="Europe/London",
        help_text=_("Days, due dates and morning messages follow it."),
    )
    one_person = forms.BooleanField(
        label=_("One person does everything here"),
        required=False,
        help_text=_(
            "Then you have every role, and where two people are asked for you go on alone "
            "with a reason in writing, which the record shows."
        ),
    )
    checks_by_label = forms.TypedChoiceField(
        label=_("Checks by label, without an account?"),
        coerce=lambda value: value == "yes",
        choices=[
            ("yes", _("Yes: who holds a machine's label checks it and reports faults")),
            ("no", _("No: only people who sign in")),
        ],
        initial="yes",
        help_text=_("A label opens its one machine and frees nothing. It can be changed later."),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    name = WordsField(
        label=_("Your name"),
        high=80,
        help_text=_("As it is to stand on records and paper."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    sign_in = WordsField(
        label=_("Your sign-in name"),
        high=40,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    email = forms.EmailField(
        label=_("Your e-mail address"),
        required=False,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )
    password = forms.CharField(
        label=_("Your password"),
        min_length=15,
        max_length=128,
        strip=False,
        help_text=_("15 letters or more. Four words that do not belong together are good."),
        error_messages={"min_length": _("That is too short: 15 letters or more.")},
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=_("The same password again"),
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"].lower()
        if not code.isascii() or not code.isalnum():
            raise forms.ValidationError(CODE_LETTERS)
        return code

    def clean(self) -> dict[str, Any]:
        told = super().clean() or {}
        if "password" in told and "again" in told and told["password"] != told["again"]:
            self.add_error("again", gettext("The two passwords are not the same. Type both again."))
        return told

    def part(self, *names: str) -> list[forms.BoundField]:
        return [self[name] for name in names]

    @property
    def of_firm(self) -> list[forms.BoundField]:
        return self.part("firm", "depot", "code", "time_zone", "one_person")

    @property
    def of_checks(self) -> list[forms.BoundField]:
        return self.part("checks_by_label")

    @property
    def of_person(self) -> list[forms.BoundField]:
        return self.part("name", "sign_in", "email", "password", "again")
