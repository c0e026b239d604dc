"""How forms are drawn, what they say when an entry is missing, and the forms of the register."""

from typing import Any

from django import forms
from django.core import validators
from django.forms.renderers import TemplatesSetting
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from plant.columns import Columns, date_ways, day_words
from plant.lazy_text import gettext_lazy
from plant.machine_columns import TABLE
from plant.models import BroughtFile, Depot, MachineImport, MachineKind, Supply, User
from plant.rights import Right, depots_where
from plant.units import LENGTH, MASS, POWER, Measure


class Renderer(TemplatesSetting):
    """Draws fields by our own templates: label, hint, error, field."""

    form_template_name = "form.html"
    field_template_name = "field.html"


_WORDS: dict[type[forms.Field], dict[str, str]] = {
    forms.Field: {"required": gettext_lazy("Fill this in.")},
    forms.BooleanField: {"required": gettext_lazy("Tick this first.")},
    forms.ChoiceField: {
        "required": gettext_lazy("Choose one."),
        "invalid_choice": gettext_lazy("Choose one of these."),
    },
    forms.ModelChoiceField: {
        "required": gettext_lazy("Choose one."),
        "invalid_choice": gettext_lazy("Choose one of these."),
    },
    forms.FileField: {
        "required": gettext_lazy("Choose a file."),
        "empty": gettext_lazy("This file is empty."),
    },
    forms.IntegerField: {"invalid": gettext_lazy("Write a whole number.")},
    forms.DecimalField: {"invalid": gettext_lazy("Write a number, with a point for the decimals.")},
    forms.DateField: {"invalid": gettext_lazy("Write the day like this: 25 Nov 2026.")},
    forms.DateTimeField: {
        "invalid": gettext_lazy("Write day and time like this: 25 Nov 2026 07:31.")
    },
    forms.TimeField: {"invalid": gettext_lazy("Write the time like this: 07:31.")},
}


def use_our_words() -> None:
    """Makes every form say what to do in the words of this site; called once, at the start."""
    for field, words in _WORDS.items():
        field.default_error_messages = {**field.__dict__.get("default_error_messages", {}), **words}
    validators.MaxLengthValidator.message = _(
        "That is %(show_value)d letters. Keep it to %(limit_value)d."
    )
    validators.MaxValueValidator.message = _("It must be %(limit_value)s or less.")
    validators.MinValueValidator.message = _("It must be %(limit_value)s or more.")


# Fields take their words when their form is defined, so these come before the forms below; the
# start of the site makes sure that they come before all others.
use_our_words()


class SignInForm(forms.Form):
    sign_in = forms.CharField(
        label=gettext_lazy("Sign-in name"),
        max_length=254,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    password = forms.CharField(
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        label=gettext_lazy("Password"),
    )


class FileForm(forms.Form):
    """A spreadsheet that somebody brings, and for which depot."""

    right: Right
    file = forms.FileField(
        label=gettext_lazy("File"),
        help_text=gettext_lazy(
            "CSV in UTF-8 or .xlsx, up to 5 MiB and 10 000 rows, headings in the first row."
        ),
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,text/csv"}),
    )
    depot = forms.ModelChoiceField(
        Depot.objects.none(), empty_label=None, label=gettext_lazy("Depot")
    )

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        depots = Depot.objects.filter(pk__in=depots_where(user, self.right))
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = depots


class ImportForm(FileForm):
    """A spreadsheet of machines, and the depot of the rows that name none."""

    right = Right.IMPORT

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, user=user, **more)
        self.fields["file"].label = _("Spreadsheet of machines")
        self.fields["depot"].help_text = _("For rows that name no depot of their own.")


class ColumnsForm(forms.Form):
    """What each column of a file holds, and in what order its dates are written."""

    def __init__(self, *args: Any, run: BroughtFile, columns: Columns, **more: Any) -> None:
        super().__init__(*args, **more)
        self.run, self.known = run, columns

    def add_dates(self) -> None:
        asked = self.run.questions.get("dates")
        if not asked:
            return
        example = asked["examples"][0]
        ways = date_ways(example)
        seems = {
            "day": _("The other dates have the day first."),
            "month": _("The other dates have the month first."),
        }
        self.fields["dates"] = forms.ChoiceField(
            label=_("How are the dates written, for example {example}?").format(example=example),
            help_text=seems.get(asked["seems"], ""),
            required=False,
            choices=[
                ("day", _("Day first: {ways}").format(ways=day_words(ways["day"]))),
                ("month", _("Month first: {ways}").format(ways=day_words(ways["month"]))),
            ],
            initial=self.run.answers.get("dates"),
            widget=forms.RadioSelect(attrs={"class": "choices"}),
        )

    def add_unit(self, name: str, *, what: str, measure: Measure, examples: list[str]) -> None:
        """Asks in which unit the plain numbers of a column, or of a sort of column, are."""
        self.fields[f"unit:{name}"] = forms.ChoiceField(
            label=_("{what}: which unit is meant?").format(what=what),
            help_text=_("In the file without a unit: {examples}.").format(
                examples=", ".join(examples)
            ),
            required=False,
            choices=[
                ("", _("Choose a unit")),
                *((one.symbol, one.symbol) for one in measure.units),
            ],
            initial=self.run.answers.get("units", {}).get(name),
        )

    def add_columns(self) -> None:
        fields = ((column.field, column.name) for column in self.known.by_field.values())
        choices = [("", _("Leave out")), *fields]
        for at, heading in enumerate(self.run.headings):
            self.fields[f"column:{at}"] = forms.ChoiceField(
                label=heading,
                required=False,
                choices=choices,
                initial=self.run.columns.get(heading, ""),
            )

    @property
    def questions(self) -> list[forms.BoundField]:
        """The fields that ask; the others say what the columns hold."""
        return [self[name] for name in self.fields if not name.startswith("column:")]

    @property
    def columns(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith("column:")]

    def held(self, cleaned: dict[str, Any]) -> dict[str, str]:
        """Heading to field, as chosen; two columns of one field, or no number, are refused."""
        held: dict[str, str] = {}
        for at, heading in enumerate(self.run.headings):
            field = cleaned.get(f"column:{at}", "")
            if field and field in held.values():
                self.add_error(
                    f"column:{at}",
                    _("{by_field} is another column already. Choose one of the two.").format(
                        by_field=self.known.by_field[field].name
                    ),
                )
            elif field:
                held[heading] = field
        if "number" not in held.values():
            self.add_error(None, _("One column has to hold the machine number. Choose which."))
        return held


class SortForm(ColumnsForm):
    """What each column of a file of machines holds, and the answers that its rows wait for."""

    _ASKED = {"power": POWER, "mass": MASS, "length": LENGTH}
    _WORDS = {
        "power": gettext_lazy("Power"),
        "mass": gettext_lazy("Mass"),
        "length": gettext_lazy("Lengths of the drive"),
    }

    def __init__(self, *args: Any, run: MachineImport, **more: Any) -> None:
        super().__init__(*args, run=run, columns=TABLE, **more)
        self.add_dates()
        for name, examples in sorted(run.questions.get("units", {}).items()):
            self.add_unit(
                name, what=self._WORDS[name], measure=self._ASKED[name], examples=examples
            )
        kinds = [(kind.key, kind.name) for kind in MachineKind.objects.all()]
        self._add_words("kind", "kind", kinds)
        self._add_words("supply", "supply", list(Supply.choices))
        self._add_large()
        self.add_columns()

    def _add_words(self, subject: str, word: str, choices: list[tuple[str, str]]) -> None:
        for folded, asked in sorted(self.run.questions.get(subject, {}).items()):
            near = [pair for pair in choices if pair[0] in asked["nearest"]]
            rest = [pair for pair in choices if pair not in near]
            rows = ngettext("In {count} row.", "In {count} rows.", asked["rows"])
            typed = f"“{asked['typed']}”" if asked["typed"] else _("nothing written")
            self.fields[f"{subject}:{folded}"] = forms.ChoiceField(
                label=_("Which {word} is {typed}?").format(word=word, typed=typed)
                if asked["typed"]
                else _("Which {word}, where there is {typed}?").format(word=word, typed=typed),
                help_text=rows.format(count=asked["rows"]),
                required=False,
                choices=[
                    ("", _("Choose a {word}").format(word=word)),
                    *([(_("Nearest"), near)] if near else []),
                    *([(_("Others"), rest)] if near else rest),
                ],
                initial=self.run.answers.get(subject, {}).get(folded),
            )

    def _add_large(self) -> None:
        examples = self.run.questions.get("large")
        if examples:
            self.fields["large"] = forms.BooleanField(
                label=_("Figures far above the usual are right as they stand"),
                help_text=_("For example {examples}.").format(examples=", ".join(examples)),
                required=False,
                initial=self.run.answers.get("large") == "right",
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        held = self.held(cleaned)
        answers: dict[str, Any] = {"units": {}, "kind": {}, "supply": {}}
        for name, value in cleaned.items():
            subject, colon, word = name.partition(":")
            if not value or subject == "column":
                continue
            if subject == "unit":
                answers["units"][word] = value
            elif colon:
                answers[subject][word] = value
            else:
                answers[subject] = "right" if subject == "large" else value
        return {"columns": held, "answers": answers}
