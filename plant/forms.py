"""How forms are drawn, what they say when an entry is missing, and the form that signs in."""

from django import forms
from django.core import validators
from django.forms.renderers import TemplatesSetting


class Renderer(TemplatesSetting):
    """Draws fields by our own templates: label, hint, error, field."""

    form_template_name = "form.html"
    field_template_name = "field.html"


class SignInForm(forms.Form):
    sign_in = forms.CharField(
        label="Sign-in name",
        max_length=254,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    password = forms.CharField(
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


_WORDS: dict[type[forms.Field], dict[str, str]] = {
    forms.Field: {"required": "Fill this in."},
    forms.BooleanField: {"required": "Tick this first."},
    forms.ChoiceField: {"required": "Choose one.", "invalid_choice": "Choose one of these."},
    forms.ModelChoiceField: {"required": "Choose one.", "invalid_choice": "Choose one of these."},
    forms.FileField: {"required": "Choose a file.", "empty": "This file is empty."},
    forms.IntegerField: {"invalid": "Write a whole number."},
    forms.DecimalField: {"invalid": "Write a number, with a point for the decimals."},
    forms.DateField: {"invalid": "Write the day like this: 25 Nov 2026."},
    forms.DateTimeField: {"invalid": "Write day and time like this: 25 Nov 2026 07:31."},
    forms.TimeField: {"invalid": "Write the time like this: 07:31."},
}


def use_our_words() -> None:
    """Makes every form say what to do in the words of this site; called once, at the start."""
    for field, words in _WORDS.items():
        field.default_error_messages = {**field.__dict__.get("default_error_messages", {}), **words}
    validators.MaxLengthValidator.message = (
        "That is %(show_value)d letters. Keep it to %(limit_value)d."
    )
    validators.MaxValueValidator.message = "It must be %(limit_value)s or less."
    validators.MinValueValidator.message = "It must be %(limit_value)s or more."
