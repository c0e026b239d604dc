"""A file of an electrical test instrument: for which depot, what its columns hold, its answers."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from maintenance.forms.entry import DayField
from maintenance.models import Instrument, ReadingsFile
from maintenance.rules.sheet import RuleSheet
from maintenance.rules.tester_columns import ITEMS, columns_of
from plant.forms import ColumnsForm, FileForm
from plant.lazy_text import gettext_lazy
from plant.rights import Right

RIGHT = "right"
_ITEM_WORDS = {
    "machine": gettext_lazy("The machine itself"),
    "lead": gettext_lazy("A lead"),
    "transformer": gettext_lazy("A transformer"),
    "generator": gettext_lazy("A generator"),
    "rcd": gettext_lazy("An RCD"),
}
_WHICH = {
    "instrument": gettext_lazy("instrument"),
    "item": gettext_lazy("test"),
    "profile": gettext_lazy("standard of the RCD"),
}


class ReadingsFileForm(FileForm):
    right = Right.WORK

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["file"].label = _("File of the instrument")
        self.fields["depot"].help_text = _("Its machines and instruments are looked for here.")


class ReadingsSortForm(ColumnsForm):
    """What each column of the file holds, and the answers that its rows wait for."""

    def __init__(self, *args: Any, run: ReadingsFile, sheet: RuleSheet, **more: Any) -> None:
        columns = columns_of(sheet)
        super().__init__(*args, run=run, columns=columns, **more)
        asked = run.questions
        self.add_dates()
        if rows := asked.get("day"):
            self.fields["day"] = DayField(
                label=_("On which day were they tested?"),
                required=False,
                help_text=_("For {rows} without a day.").format(rows=_rows(rows)),
                initial=run.answers.get("day"),
            )
        for name, examples in asked.get("units", {}).items():
            column = columns.by_field[name]
            assert column.measure is not None
            self.add_unit(name, what=column.name, measure=column.measure, examples=examples)
        instruments = Instrument.objects.in_use().filter(depot=run.depot_id)
        self._add_words("instrument", [(str(each.pk), str(each)) for each in instruments])
        items = [(key, _ITEM_WORDS[key]) for key in ITEMS]
        self._add_words("item", [*items, *((form.key, form.name) for form in sheet.test_forms)])
        self._add_words("profile", [(each.key, each.name) for each in sheet.rcd])
        self._add_ticks("confirm", _("Done before each of these tests."))
        self._add_ticks(
            "look", _("I looked, and it was right on each machine that is asked for it.")
        )
        self.add_columns()

    def _add_words(self, subject: str, choices: list[tuple[str, str]]) -> None:
        which = _WHICH[subject]
        for folded, asked in sorted(self.run.questions.get(subject, {}).items()):
            typed = f"“{asked['typed']}”" if asked["typed"] else _("meant where nothing is written")
            self.fields[f"{subject}:{folded}"] = forms.ChoiceField(
                label=_("Which {which} is {typed}?").format(which=which, typed=typed),
                help_text=_("In {asked}.").format(asked=_rows(asked["rows"])),
                required=False,
                choices=[("", _("Choose the {which}").format(which=which)), *choices],
                initial=str(self.run.answers.get(subject, {}).get(folded, "")),
            )

    def _add_ticks(self, subject: str, hint: str) -> None:
        for key, words in self.run.questions.get(subject, {}).items():
            self.fields[f"{subject}:{key}"] = forms.BooleanField(
                label=words,
                help_text=hint,
                required=False,
                initial=self.run.answers.get(subject, {}).get(key) == RIGHT,
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        held = self.held(cleaned)
        answers: dict[str, Any] = {}
        for name, value in cleaned.items():
            subject, colon, word = name.partition(":")
            if not value or subject == "column":
                continue
            if subject == "day":
                answers["day"] = value.isoformat()
            elif not colon:
                answers[subject] = value
            else:
                subject = "units" if subject == "unit" else subject
                answers.setdefault(subject, {})[word] = RIGHT if value is True else value
        return {"columns": held, "answers": answers}


def _rows(count: int) -> str:
    return ngettext("{count} row", "{count} rows", count).format(count=count)
