"""What every form that seals something has: its entry number, and refusals shown at the field."""

import uuid
from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest
from django.utils.timezone import localdate
from django.utils.translation import gettext as _

from maintenance.rules.words import day_text
from plant import photos
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.lazy_text import gettext_lazy

# A day outside these is a slip of the keyboard.
FIRST_DAY = date(2000, 1, 1)
LONGEST_AHEAD = timedelta(days=3653)


def sent(request: HttpRequest) -> dict[str, Any]:
    """What a form is made with: the data of a POST, or nothing to show it blank."""
    if request.method != "POST":
        return {}
    return {"data": request.POST, "files": request.FILES}


class EntryField(forms.UUIDField):
    """The number of an entry, given when its page was made. A page that lost it gets a new one."""

    def __init__(self) -> None:
        super().__init__(widget=forms.HiddenInput, initial=new_id)

    def clean(self, value: Any) -> uuid.UUID:
        try:
            number: uuid.UUID = super().clean(value)
        except ValidationError:
            return new_id()
        return number


class EntryForm(forms.Form):
    """A form whose entry is saved once, however often it is sent."""

    entry = EntryField()

    def refuse(self, refused: Refused) -> None:
        """Shows an action's refusal at its field, or above the form."""
        self.add_error(refused.field if refused.field in self.fields else None, str(refused))


class PhotoField(forms.FileField):
    """One photo; the cleaned value is the bytes to keep, or None."""

    def __init__(self, **given: Any) -> None:
        attrs = {"accept": "image/jpeg,image/png,image/webp"}
        given.setdefault("label", gettext_lazy("Photo"))
        given.setdefault(
            "help_text",
            gettext_lazy("JPEG, PNG or WebP, up to 10 MiB. Place and time are removed."),
        )
        super().__init__(required=False, widget=forms.FileInput(attrs=attrs), **given)

    def clean(self, data: "UploadedFile[bytes] | None", initial: Any = None) -> bytes | None:
        given = super().clean(data, initial)
        if not given:
            return None
        try:
            return photos.clean(given.file)
        except photos.PhotoRefused as refused:
            raise ValidationError(str(refused), code="photo") from refused


class DayField(forms.DateField):
    """A calendar day, with the calendar of the phone or the browser."""

    def __init__(self, **given: Any) -> None:
        widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
        super().__init__(widget=widget, **given)

    def clean(self, value: Any) -> date | None:
        day: date | None = super().clean(value)
        if day is not None:
            last = localdate() + LONGEST_AHEAD
            if not FIRST_DAY <= day <= last:
                raise ValidationError(
                    _("Give a day from {first_day} to {last}.").format(
                        first_day=day_text(FIRST_DAY), last=day_text(last)
                    ),
                    code="range",
                )
        return day


def name_field() -> forms.CharField:
    """Who does it, where nobody is signed in."""
    return forms.CharField(
        label=_("Your name"),
        max_length=80,
        help_text=_("Kept with what you send, and remembered on this phone."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )


def words_field(label: str, *, high: int, rows: int = 3, **given: Any) -> forms.CharField:
    """A few lines of free words."""
    return forms.CharField(
        label=label, max_length=high, widget=forms.Textarea(attrs={"rows": rows}), **given
    )
