"""A look-over or an inspection: each point in its group, the isolated ones once it is isolated."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from maintenance.actions.check import AnswersRefused
from maintenance.actions.inspection import LONGEST_WORD, MEASURES, MOST_PHOTOS, Told
from maintenance.actions.job import ISOLATED
from maintenance.forms.entry import EntryForm, PhotoField, words_field
from maintenance.rules.check import COULD_NOT, OK, WRONG
from maintenance.rules.inspection import NONE_ON_IT
from maintenance.rules.sheet import Point
from plant.actions.refusal import Refused
from plant.fields import QuantityField
from plant.lazy_text import gettext_lazy

_JUDGED = ((OK, "OK"), (WRONG, gettext_lazy("Wrong")))
_UNSEEN = ((COULD_NOT, gettext_lazy("Could not check")),)
_LACKING = ((NONE_ON_IT, gettext_lazy("None on it")),)
# A draft holds what one list can hold, and no more.
LONGEST_TYPED = 2000


@dataclass(frozen=True)
class Asked:
    """One point with its fields, as the page shows them."""

    point: Point
    answer: forms.BoundField
    word: forms.BoundField
    photo: forms.BoundField
    figure: forms.BoundField | None

    @property
    def wrong(self) -> bool:
        fields = (self.answer, self.word, self.photo, self.figure)
        return any(field is not None and field.errors for field in fields)


class InspectionForm(EntryForm):
    """Every point of the list that may be asked now.

    Args:
        points: without the isolated ones as long as nobody has confirmed the isolation.
        isolates: asks for the isolation.
    """

    def __init__(
        self, *args: Any, points: Sequence[Point], isolates: bool = False, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.points = points
        for each in points:
            self._add(each)
        if isolates:
            self.fields["isolated"] = forms.MultipleChoiceField(
                label=_("I have done this, and seen that it is so"),
                required=False,
                choices=[(key, _(asked)) for key, asked in ISOLATED],
                widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
            )
        self.fields["photo"] = PhotoField(label=_("Photo of the whole machine"))
        self.fields["note"] = words_field(_("Note"), high=LONGEST_TYPED, rows=2, required=False)

    def _add(self, each: Point) -> None:
        key = each.key
        choices = (
            *(() if each.unit else _JUDGED),
            *_UNSEEN,
            *(_LACKING if each.may_lack else ()),
        )
        if each.unit:
            self.fields[f"figure_{key}"] = QuantityField(
                MEASURES[each.unit], label=each.short, required=False
            )
        self.fields[f"answer_{key}"] = forms.ChoiceField(
            label=_("Or, in place of the figure") if each.unit else each.words,
            choices=choices,
            required=not each.unit,
            widget=forms.RadioSelect(attrs={"class": "answers"}),
            error_messages={"required": _("Answer this: OK, Wrong or Could not check.")},
        )
        self.fields[f"word_{key}"] = forms.CharField(
            label=_("{short}: say in a word what is wrong, or why not checked").format(
                short=each.short
            ),
            required=False,
            max_length=LONGEST_WORD,
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
        )
        self.fields[f"photo_{key}"] = PhotoField(label=_("{short}: photo").format(short=each.short))

    def groups(self) -> Iterator[tuple[str, list[Asked]]]:
        """The points under their groups, in the order asked."""
        by_group: dict[str, list[Asked]] = {}
        for each in self.points:
            figure = self[f"figure_{each.key}"] if each.unit else None
            asked = Asked(
                each,
                self[f"answer_{each.key}"],
                self[f"word_{each.key}"],
                self[f"photo_{each.key}"],
                figure,
            )
            by_group.setdefault(each.group, []).append(asked)
        yield from by_group.items()

    def typed(self) -> dict[str, str]:
        """What was typed, whether it is whole or not, as a draft keeps it."""
        kept = {}
        for name, field in self.fields.items():
            if name in ("entry", "isolated") or isinstance(field, PhotoField):
                continue
            data = field.widget.value_from_datadict(self.data, self.files, name)
            text = str(data or "")[:LONGEST_TYPED]
            text = text.encode("utf-8", "ignore").decode().replace("\0", "")
            if text:
                kept[name] = text
        return kept

    def all_isolated(self) -> bool:
        """Whether every line of the isolation is ticked; says so at the field where not."""
        ticked = set(self.data.getlist("isolated")) if hasattr(self.data, "getlist") else set()
        left = [_(what) for key, what in ISOLATED if key not in ticked]
        if left:
            self.add_error("isolated", _("Not confirmed yet: {left}.").format(left="; ".join(left)))
        return not left

    def told(self) -> dict[str, Told]:
        """What was found, by point; nothing for a point that was left out."""
        found = {}
        for each in self.points:
            answer = self.cleaned_data.get(f"answer_{each.key}", "")
            figure = self.cleaned_data.get(f"figure_{each.key}")
            if answer or figure is not None:
                word = self.cleaned_data.get(f"word_{each.key}", "")
                found[each.key] = Told(answer=answer, word=word, figure=figure)
        return found

    def photos(self) -> dict[str, bytes]:
        names = {"photo": "photo"} | {f"photo_{each.key}": each.key for each in self.points}
        given = {names[name]: self.cleaned_data.get(name) for name in names}
        return {name: photo for name, photo in given.items() if photo}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if sum(bool(cleaned.get(name)) for name in cleaned if name.startswith("photo")) > (
            MOST_PHOTOS
        ):
            self.add_error(
                None,
                _("{most_photos} photos at most. Leave some out.").format(most_photos=MOST_PHOTOS),
            )
        return cleaned

    def refuse(self, refused: Refused) -> None:
        problems: Mapping[str, str] = {}
        if isinstance(refused, AnswersRefused):
            problems = refused.problems
        for key, problem in problems.items():
            names = [f"figure_{key}", f"answer_{key}"]
            if "say in a word" in problem:
                names = [f"word_{key}"]
            field = next((name for name in names if name in self.fields), None)
            self.add_error(field, problem)
        if not problems:
            super().refuse(refused)
