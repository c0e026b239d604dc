"""The acts on a job: open, give out, isolate, wait, work done, and a reason for what ends it."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.actions.job import ISOLATED
from maintenance.actions.work_done import MOST_MINUTES, MOST_QUANTITY, Part
from maintenance.contents.job import FLAGS
from maintenance.forms.answer import answer_field
from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.forms.filters import DepotFilter
from maintenance.models import Job
from maintenance.rules.jobs import WAITING_FOR
from plant.fields import WholeField
from plant.lazy_text import gettext_lazy as _
from plant.models import User
from plant.rights import TABLE, Right, depots_where

PART_ROWS = 3


class OpenJobForm(EntryForm):
    kind = forms.ChoiceField(
        label=_("What kind of work"),
        choices=[c for c in Job.Kind.choices if c[0] != Job.Kind.FAULT],
    )
    title = forms.CharField(label=_("What is to be done"), max_length=120)
    symptom = words_field(_("What was seen"), high=400, required=False)
    is_safety = forms.BooleanField(
        label=_("It touches guards, electrics, brakes or another thing that protects people"),
        required=False,
        help_text=_("Closing it then needs a release check."),
    )


class GiveOutForm(EntryForm):
    to = forms.ModelChoiceField(
        User.objects.none(), label=_("To"), empty_label=_("Choose a person")
    )
    for_day = DayField(label=_("For the day"))

    def __init__(self, *args: Any, depot_id: int, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["to"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = User.objects.filter(
            is_active=True,
            memberships__depot=depot_id,
            memberships__role__in=list(TABLE[Right.WORK][0]),
        ).distinct()


class IsolateForm(EntryForm):
    """Everything is confirmed before a cover comes off."""

    confirmed = forms.MultipleChoiceField(
        label=_("I have done this, and seen that it is so"),
        required=False,
        choices=[(key, _(asked)) for key, asked in ISOLATED],
        widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
    )


def _waiting_for() -> list[tuple[str, str]]:
    return [(each, gettext(each).capitalize()) for each in WAITING_FOR]


class WaitForm(EntryForm):
    waiting_for = forms.ChoiceField(
        label=_("What it waits for"),
        choices=lambda: [("", _("Choose one")), *_waiting_for()],
    )
    expected_on = DayField(label=_("Expected on"), required=False)


class ReasonForm(EntryForm):
    reason = words_field(_("Reason"), high=400)


class CallOffForm(ReasonForm):
    """A reason for the file, and where somebody told the fault, an answer to him."""

    def __init__(self, *args: Any, told: bool, **more: Any) -> None:
        super().__init__(*args, **more)
        if told:
            self.fields["answer"] = answer_field()


class CountersignForm(EntryForm):
    note = words_field(_("What you looked at"), high=400, required=False)


class BareForm(EntryForm):
    """Nothing but the act itself."""


class FinishForm(EntryForm):
    """Symptom, cause and action kept apart, with the time and the parts of one person."""

    symptom = words_field(_("Symptom: what was seen"), high=400, rows=2)
    listed = forms.ChoiceField(
        label=_("Why, from the list"),
        required=False,
        help_text=_("Counts in the odds for the next machine of this kind."),
    )
    cause = words_field(
        _("Cause: why it was so"),
        high=400,
        rows=2,
        required=False,
        help_text=_("“Not found” is an answer. Empty, the cause chosen above stands."),
    )
    action = words_field(_("Action: what was done"), high=1000)
    minutes = WholeField(
        label=_("Your minutes"), min_value=1, max_value=MOST_MINUTES, help_text=_("1 to 1440.")
    )

    def __init__(
        self, *args: Any, causes: Sequence[tuple[str, Sequence[tuple[str, str]]]], **more: Any
    ) -> None:
        super().__init__(*args, **more)
        field = self.fields["listed"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", gettext("None of these")), *causes]
        if not causes:
            del self.fields["listed"]
        for n in range(1, PART_ROWS + 1):
            self.fields[f"part_{n}"] = forms.CharField(
                label=gettext("Part {n}").format(n=n), required=False, max_length=120
            )
            self.fields[f"quantity_{n}"] = WholeField(
                label=gettext("How many of part {n}").format(n=n),
                required=False,
                min_value=1,
                max_value=MOST_QUANTITY,
            )
            self.fields[f"from_{n}"] = forms.CharField(
                label=gettext("Part {n} taken from").format(n=n), required=False, max_length=60
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not (cleaned.get("cause") or cleaned.get("listed") or "cause" in self.errors):
            self.add_error(
                "cause", gettext("Choose a cause, or write it. “Not found” is an answer.")
            )
        for n in range(1, PART_ROWS + 1):
            more = cleaned.get(f"quantity_{n}") or cleaned.get(f"from_{n}")
            if more and not cleaned.get(f"part_{n}"):
                self.add_error(
                    f"part_{n}", gettext("Say which part, or empty the rest of its row.")
                )
        return cleaned

    @property
    def part_rows(self) -> list[list[forms.BoundField]]:
        return [
            [self[f"part_{n}"], self[f"quantity_{n}"], self[f"from_{n}"]]
            for n in range(1, PART_ROWS + 1)
        ]

    def parts(self) -> list[Part]:
        return [
            Part(
                what=self.cleaned_data[f"part_{n}"],
                quantity=self.cleaned_data[f"quantity_{n}"] or 1,
                taken_from=self.cleaned_data[f"from_{n}"],
            )
            for n in range(1, PART_ROWS + 1)
            if self.cleaned_data[f"part_{n}"]
        ]


class JobFilter(DepotFilter):
    """Which jobs are listed; the words say what the filter does."""

    OPEN = "open"
    state = forms.ChoiceField(
        required=False,
        label=_("How far it is"),
        choices=[("", _("Still open")), ("all", _("All, closed ones too")), *Job.State.choices],
    )
    mine = forms.ChoiceField(
        required=False,
        label=_("Whose"),
        choices=[("", _("Everybody's")), ("1", _("Given to me")), ("none", _("Given to nobody"))],
    )
    person = forms.ModelChoiceField(
        User.objects.none(), required=False, label=_("With"), empty_label=_("Anybody")
    )
    kind = forms.ChoiceField(
        required=False, label=_("Kind of work"), choices=[("", _("Any")), *Job.Kind.choices]
    )
    waiting = forms.ChoiceField(
        required=False,
        label=_("Waits for"),
        choices=lambda: [("", _("Waiting or not")), *_waiting_for()],
    )
    flag = forms.ChoiceField(
        required=False,
        label=_("Only"),
        choices=[("", _("Any")), *((key, _(word)) for key, word in FLAGS.items())],
    )
    q = forms.CharField(required=False, max_length=100, label=_("Job, machine or words"))

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, user=user, **more)
        field = self.fields["person"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = User.objects.filter(
            memberships__depot__in=depots_where(user, Right.SEE),
            memberships__role__in=list(TABLE[Right.WORK][0]),
        ).distinct()
