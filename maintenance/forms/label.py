"""Replacing a label's link."""

from django import forms

from maintenance.forms.entry import EntryForm, words_field


class ReplaceLabelForm(EntryForm):
    """Why, and whether the four characters go too."""

    reason = words_field(
        "Why it is replaced", high=400, rows=2,
        help_text="Lost, stolen or copied. 10 letters or more. It stands on record.",
    )  # fmt: skip
    short_code_too = forms.BooleanField(
        label="Replace the four characters as well",
        help_text="Only if somebody knows them who should not.",
        required=False,
    )
