"""The forms of people: inviting, roles, changing an account, depots, and one's own password."""

from collections.abc import Collection
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from plant import passwords
from plant.actions.account import LONGEST_NAME, LONGEST_REASON, SHORTEST_REASON, Told
from plant.actions.depot import FIELDS
from plant.actions.refusal import Refused
from plant.lazy_text import filled, gettext_lazy
from plant.models import Depot, Firm, Lengths, Role, User
from plant.rights import gives
from plant.signed_in import ProofForm

_PLAIN = {"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}


class RefusingForm(ProofForm):
    """A heavy act: asks for the password once more, and shows a refusal at its field."""

    def refuse(self, refused: Refused) -> None:
        self.add_error(refused.field if refused.field in self.fields else None, str(refused))


class TellForm(RefusingForm):
    """Who somebody is."""

    name = forms.CharField(
        max_length=LONGEST_NAME,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        label=gettext_lazy("Name"),
    )
    sign_in = forms.CharField(
        label=gettext_lazy("Sign-in name"),
        max_length=40,
        help_text=gettext_lazy(
            "Small letters and figures, for example ida.brandt. Nobody else has it."
        ),
        widget=forms.TextInput(attrs=_PLAIN),
    )
    email = forms.CharField(
        label=gettext_lazy("E-mail"),
        max_length=254,
        required=False,
        help_text=gettext_lazy(
            "For messages that the person chooses, and for a link that you send. Everything "
            "works without."
        ),
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )

    def told(self) -> Told:
        given = self.cleaned_data
        return Told(name=given["name"], sign_in=given["sign_in"], email=given["email"])


class LengthsForm(forms.Form):
    """The unit in which one reads and types lengths."""

    lengths = forms.ChoiceField(
        label=gettext_lazy("Lengths in"),
        choices=Lengths.choices,
        help_text=gettext_lazy(
            "Also what a plain number means that you type as a length; the unit stands "
            "beside it. Records, paper and files stay in millimetres."
        ),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )


class RolesPart(forms.Form):
    """A tick for each role in each depot; those that the giver does not give are shown as held."""

    learner = forms.BooleanField(
        label=gettext_lazy("Learner"),
        required=False,
        help_text=gettext_lazy("Works under somebody's eye, and never releases a machine alone."),
    )

    def add_roles(
        self, depots: Collection[Depot], *, by: User, held: dict[int, frozenset[Role]]
    ) -> None:
        self.grid: list[tuple[Depot, list[tuple[Role, str, bool]]]] = []
        for depot in depots:
            may_give = gives(by, depot.pk)
            cells = []
            for role in Role:
                name = f"role-{depot.pk}-{role}"
                has = role in held.get(depot.pk, ())
                if role in may_give:
                    self.fields[name] = forms.BooleanField(
                        label=gettext("{role} at {depot}").format(role=role.label, depot=depot),
                        required=False,
                        initial=has,
                    )
                cells.append((role, name if role in may_give else "", has))
            self.grid.append((depot, cells))

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The table of the page: a row for each role, a cell for each depot."""
        return [
            {
                "role": role,
                "cells": [
                    {
                        "depot": depot,
                        "box": self[cells[at][1]] if cells[at][1] else None,
                        "held": cells[at][2],
                    }
                    for depot, cells in self.grid
                ],
            }
            for at, role in enumerate(Role)
        ]

    def wanted(self) -> dict[int, frozenset[Role]]:
        """The roles by depot that were ticked, of those that the giver gives."""
        return {
            depot.pk: frozenset(role for role, name, _ in cells if name and self.cleaned_data[name])
            for depot, cells in self.grid
        }


class InviteForm(TellForm, RolesPart):
    def __init__(self, *args: Any, by: User, depots: Collection[Depot], **more: Any) -> None:
        super().__init__(*args, **more)
        self.add_roles(depots, by=by, held={})
        if settings.MAIL_ON:
            self.fields["mail"] = forms.BooleanField(
                label=gettext("Send the link to this address"),
                required=False,
                help_text=gettext("You see it on the next page all the same, to hand it over."),
            )


class LinkForm(RefusingForm):
    """Makes a link to choose a password; where mail is sent, also by mail."""

    def __init__(self, *args: Any, person: User, **more: Any) -> None:
        super().__init__(*args, **more)
        if settings.MAIL_ON and person.email:
            self.fields["mail"] = forms.BooleanField(
                label=gettext("Send it to {email} too").format(email=person.email),
                required=False,
                help_text=gettext("You see it here all the same, to hand it over."),
            )


class RolesForm(RefusingForm, RolesPart):
    def __init__(
        self,
        *args: Any,
        by: User,
        person: User,
        depots: Collection[Depot],
        held: dict[int, frozenset[Role]],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.add_roles(depots, by=by, held=held)
        if by.pk == person.pk:
            self.fields["reason"] = forms.CharField(
                label=gettext("Why do you change your own roles?"),
                required=False,
                max_length=LONGEST_REASON,
                widget=forms.Textarea(attrs={"rows": 2}),
                help_text=gettext(
                    "Only in a one-person depot, in {shortest_reason} letters or more. "
                    "It stands on record."
                ).format(shortest_reason=SHORTEST_REASON),
            )


class SureForm(RefusingForm):
    """A heavy act with nothing else to say."""


class NewPasswordForm(forms.Form):
    """A password of one's own, typed twice, since nobody can tell it again."""

    new_password = forms.CharField(
        label=gettext_lazy("Your new password"),
        strip=False,
        max_length=4 * passwords.LONGEST,
        help_text=filled(
            gettext_lazy(
                "{shortest} to {longest} characters, any of them, also spaces. "
                "Four words that have nothing to do with each other are good."
            ),
            shortest=passwords.SHORTEST,
            longest=passwords.LONGEST,
        ),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=gettext_lazy("The same again"),
        strip=False,
        max_length=4 * passwords.LONGEST,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        one, two = cleaned.get("new_password"), cleaned.get("again")
        if one and two and one != two:
            self.add_error("again", gettext("This is not the same. Type both again."))
        return cleaned


class OwnPasswordForm(RefusingForm, NewPasswordForm):
    field_order = ("proof", "new_password", "again")


def one_time_field(label: str, **given: Any) -> forms.CharField:
    attrs = {"inputmode": "numeric", "autocomplete": "one-time-code", "spellcheck": "false"}
    widget = forms.TextInput(attrs=attrs)
    return forms.CharField(label=label, max_length=40, widget=widget, **given)


class OneTimeForm(forms.Form):
    """The second step at the door."""

    code = one_time_field(
        gettext_lazy("One-time code"),
        help_text=gettext_lazy(
            "The six figures that your device shows now, or one of your spare codes."
        ),
    )


class ConfirmCodesForm(RefusingForm):
    code = one_time_field(gettext_lazy("The six figures that it shows now"))


class FirmForm(RefusingForm):
    codes_asked = forms.BooleanField(
        label=gettext_lazy("Managers and administrators sign in with a one-time code"),
        required=False,
        help_text=Firm._meta.get_field("codes_asked").help_text,
    )
    depots_seen = forms.BooleanField(
        label=gettext_lazy("Depots see what stands at each other's"),
        required=False,
        help_text=gettext_lazy(
            "On: everybody who sees the machines of one depot sees of each machine of the "
            "others its number, kind, place and whether it can go out, and how many of a belt lie "
            "there. Nothing else: no hirer, site, record "
            "or name, and no page of theirs opens. Off: "
            "another depot's things do not exist for who has no role there."
        ),
    )


class DepotForm(RefusingForm):
    """A depot and what holds for it, each with its effect."""

    name = forms.CharField(
        max_length=80,
        help_text=gettext_lazy("As it stands on pages and paper."),
        label=gettext_lazy("Name"),
    )
    code = forms.SlugField(
        max_length=12,
        help_text=gettext_lazy(
            "Short, such as qm. It stands in each record's number, so it stays for good."
        ),
        widget=forms.TextInput(attrs=_PLAIN),
        label=gettext_lazy("Code"),
    )
    address = forms.CharField(
        max_length=200,
        required=False,
        help_text=gettext_lazy("Stands on sheets."),
        label=gettext_lazy("Address"),
    )
    phone = forms.CharField(
        max_length=40,
        required=False,
        help_text=gettext_lazy("Stands on labels and passports: whom to ring."),
        label=gettext_lazy("Phone"),
    )
    time_zone = forms.CharField(
        max_length=64,
        initial="Europe/London",
        help_text=gettext_lazy(
            "Days begin and end by this clock: when work is due, overdue, checked. Such as "
            "Europe/London."
        ),
        label=gettext_lazy("Time zone"),
    )
    checks_by_label = forms.BooleanField(
        label=gettext_lazy("Checks by label"),
        required=False,
        initial=True,
        help_text=gettext_lazy(
            "On: whoever holds a machine's label checks it, reports a fault and stops it, "
            "without an account. Off: the label asks to sign in."
        ),
    )
    one_person = forms.BooleanField(
        label=gettext_lazy("One-person depot"),
        required=False,
        help_text=gettext_lazy(
            "On: where two people are asked for, one may act alone with a written reason, "
            "which the record shows. Off: always two."
        ),
    )
    length_system = forms.ChoiceField(
        label=gettext_lazy("Belt marked with a bare inch number"),
        choices=Depot.LengthSystem.choices,
        initial=Depot.LengthSystem.ISO_DIN,
        help_text=gettext_lazy(
            "How the datum length follows from such a mark. A mark that states a length "
            "outranks it; belts entered before stay as they are."
        ),
    )

    def __init__(self, *args: Any, code_stays: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["code"].disabled = code_stays

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if not name.strip():
            raise ValidationError(gettext("Write the name of the depot."))
        return name

    def clean_code(self) -> str:
        return str(self.cleaned_data["code"]).lower()

    def told(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in FIELDS}
