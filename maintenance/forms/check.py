"""The pre-use check, and the report that something is wrong."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from maintenance.actions.check import LONGEST_WORD, AnswersRefused
from maintenance.forms.entry import EntryForm, PhotoField, name_field, words_field
from maintenance.rules import check as rule
from maintenance.rules.sheet import Question
from plant.actions.refusal import Refused

_ANSWERS = ((rule.OK, "OK"), (rule.WRONG, "Wrong"), (rule.COULD_NOT, "Could not check"))
SOMETHING_ELSE = "Something else"


@dataclass(frozen=True)
class Asked:
    """One question with its two fields, as the page shows them."""

    question: Question
    answer: forms.BoundField
    word: forms.BoundField


class CheckForm(EntryForm):
    """Every question of the machine, answered OK, Wrong or Could not check."""

    def __init__(
        self, *args: Any, questions: Sequence[Question], ask_name: bool, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.questions = questions
        for each in questions:
            self.fields[f"answer_{each.key}"] = forms.ChoiceField(
                label=each.words,
                choices=_ANSWERS,
                widget=forms.RadioSelect(attrs={"class": "answers"}),
                error_messages={"required": "Answer this: OK, Wrong or Could not check."},
            )
            self.fields[f"word_{each.key}"] = forms.CharField(
                label=f"{each.short}: say in a word what is wrong, or why not checked",
                required=False,
                max_length=LONGEST_WORD,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )
        self.fields["photo"] = PhotoField(label="Photo of what is wrong")
        if ask_name:
            self.fields["by_name"] = name_field()

    def asked(self) -> Iterator[Asked]:
        for each in self.questions:
            yield Asked(each, self[f"answer_{each.key}"], self[f"word_{each.key}"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for each in self.questions:
            answer = cleaned.get(f"answer_{each.key}")
            word = cleaned.get(f"word_{each.key}", "")
            if answer in (rule.WRONG, rule.COULD_NOT) and not word.strip():
                self.add_error(
                    f"word_{each.key}", "Say in a word what is wrong, or why not checked."
                )
        return cleaned

    def given(self) -> dict[str, rule.Given]:
        """The answers by item key; a word beside OK is kept too."""
        return {
            each.key: rule.Given(
                answer=next(
                    a for a in rule.ANSWERS if a == self.cleaned_data[f"answer_{each.key}"]
                ),
                word=self.cleaned_data[f"word_{each.key}"],
            )
            for each in self.questions
        }

    def refuse(self, refused: Refused) -> None:
        problems = refused.problems if isinstance(refused, AnswersRefused) else {}
        for key, problem in problems.items():
            field = f"word_{key}" if f"word_{key}" in self.fields else None
            self.add_error(field, problem)
        if not problems:
            super().refuse(refused)


class FaultForm(EntryForm):
    """What part, what is wrong with it, and whether to stop the machine now."""

    STOP, DECIDE = "stop", "decide"
    part = forms.ChoiceField(label="What part is it?")
    told = words_field("What is wrong?", high=400)
    photo = PhotoField()
    stop = forms.ChoiceField(
        label="What should happen now?",
        help_text="Either way nobody uses it before a foreman has seen this.",
        choices=((STOP, "Stop this machine now"), (DECIDE, "Let a foreman decide")),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )

    def __init__(
        self, *args: Any, questions: Sequence[Question], ask_name: bool, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        field = self.fields["part"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            ("", "Choose the part"),
            *((each.key, each.short) for each in questions),
            (SOMETHING_ELSE, SOMETHING_ELSE),
        ]
        if ask_name:
            self.fields["by_name"] = name_field()


class StopForm(EntryForm):
    """Why a machine is stopped."""

    told = words_field("Why must nobody use it?", high=400)

    def __init__(self, *args: Any, ask_name: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        if ask_name:
            self.fields["by_name"] = name_field()
