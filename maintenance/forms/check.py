"""The pre-use check, and the report that something is wrong."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from maintenance.actions.check import LONGEST_WORD, MOST_PHOTOS, AnswersRefused, Dial
from maintenance.forms.entry import EntryForm, PhotoField, name_field, words_field
from maintenance.forms.reading import MOST_COUNTED
from maintenance.rules import check as rule
from maintenance.rules.sheet import Question
from plant import units
from plant.actions.refusal import Refused
from plant.fields import QuantityField, WholeField
from plant.lazy_text import gettext_lazy

_ANSWERS = (
    (rule.OK, "OK"),
    (rule.WRONG, gettext_lazy("Wrong")),
    (rule.COULD_NOT, gettext_lazy("Could not check")),
)
SOMETHING_ELSE = "Something else"


@dataclass(frozen=True)
class Asked:
    """One question with its fields, as the page shows them."""

    question: Question
    answer: forms.BoundField
    word: forms.BoundField
    photo: forms.BoundField


class CheckForm(EntryForm):
    """Every question of the machine, answered OK, Wrong or Could not check; and the meters."""

    def __init__(
        self,
        *args: Any,
        questions: Sequence[Question],
        ask_name: bool,
        ask_meter: bool = False,
        counts: Sequence[str] = (),
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.questions = questions
        for each in questions:
            self.fields[f"answer_{each.key}"] = forms.ChoiceField(
                label=each.words,
                choices=_ANSWERS,
                widget=forms.RadioSelect(attrs={"class": "answers"}),
                error_messages={"required": _("Answer this: OK, Wrong or Could not check.")},
            )
            self.fields[f"word_{each.key}"] = forms.CharField(
                label=_("{short}: say in a word what is wrong, or why not checked").format(
                    short=each.short
                ),
                required=False,
                max_length=LONGEST_WORD,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )
            self.fields[f"photo_{each.key}"] = PhotoField(
                label=_("{short}: photo").format(short=each.short), help_text=""
            )
        if ask_meter:
            self.fields["dial"] = QuantityField(
                units.HOURS,
                label=_("What the meter shows"),
                required=False,
                help_text=_("In h, or 4:30. Leave it empty if you cannot read it."),
            )
        self.counts = counts
        for measure in counts:
            self.fields[f"count_{measure}"] = WholeField(
                label=_("What the counter shows, {measure}").format(measure=measure),
                required=False,
                max_value=MOST_COUNTED,
                help_text=_("A whole number. Leave it empty if you cannot read it."),
                widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            )
        self.fields["photo"] = PhotoField(
            label=_("Photo of the whole machine"),
            help_text=_("Up to {most_photos} photos in all. Place and time are removed.").format(
                most_photos=MOST_PHOTOS
            ),
        )
        if ask_name:
            self.fields["by_name"] = name_field()

    def asked(self) -> Iterator[Asked]:
        for each in self.questions:
            key = each.key
            yield Asked(each, self[f"answer_{key}"], self[f"word_{key}"], self[f"photo_{key}"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for each in self.questions:
            answer = cleaned.get(f"answer_{each.key}")
            word = cleaned.get(f"word_{each.key}", "")
            if answer in (rule.WRONG, rule.COULD_NOT) and not word.strip():
                self.add_error(
                    f"word_{each.key}", _("Say in a word what is wrong, or why not checked.")
                )
        if len(self._photos(cleaned)) > MOST_PHOTOS:
            self.add_error(
                "photo",
                _("At most {most_photos} photos. Take some off.").format(most_photos=MOST_PHOTOS),
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

    def figure(self) -> Dial | None:
        """What the meter shows; None where no figure was given."""
        typed = self.cleaned_data.get("dial")
        if typed is None:
            return None
        return Dial(units.tenths_of_hour(typed.value_si), typed.text_as_typed)

    def counted(self) -> dict[str, Dial]:
        """What each counter shows, as far as a figure was given."""
        given = {each: self.cleaned_data.get(f"count_{each}") for each in self.counts}
        return {each: Dial(n * 10, str(n)) for each, n in given.items() if n is not None}

    def meters(self) -> list[forms.BoundField]:
        """The fields of the meter and the counters, as far as the machine has any."""
        names = ["dial", *(f"count_{each}" for each in self.counts)]
        return [self[name] for name in names if name in self.fields]

    def photos_kept(self) -> dict[str, bytes]:
        """The photos by item key; "photo" for the whole machine."""
        return self._photos(self.cleaned_data)

    def _photos(self, cleaned: dict[str, Any]) -> dict[str, bytes]:
        named = [(each.key, f"photo_{each.key}") for each in self.questions]
        found = {key: cleaned.get(name) for key, name in [*named, ("photo", "photo")]}
        return {key: photo for key, photo in found.items() if photo}

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
    part = forms.ChoiceField(label=gettext_lazy("What part is it?"))
    told = words_field(gettext_lazy("What is wrong?"), high=400)
    photo = PhotoField()
    stop = forms.ChoiceField(
        label=gettext_lazy("What should happen now?"),
        help_text=gettext_lazy("Either way nobody uses it before a foreman has seen this."),
        choices=(
            (STOP, gettext_lazy("Stop this machine now")),
            (DECIDE, gettext_lazy("Let a foreman decide")),
        ),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )

    def __init__(
        self, *args: Any, questions: Sequence[Question], ask_name: bool, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        field = self.fields["part"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            ("", _("Choose the part")),
            *((each.key, each.short) for each in questions),
            (SOMETHING_ELSE, _("Something else")),
        ]
        if ask_name:
            self.fields["by_name"] = name_field()


class StopForm(EntryForm):
    """Why a machine is stopped."""

    told = words_field(gettext_lazy("Why must nobody use it?"), high=400)

    def __init__(self, *args: Any, ask_name: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        if ask_name:
            self.fields["by_name"] = name_field()
