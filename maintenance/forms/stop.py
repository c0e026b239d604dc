"""Deciding on a stop, and the release check."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.actions.release import LOOKS, NONE_ON_IT, NOT_RIGHT, RIGHT
from maintenance.forms.answer import answer_field
from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.models import Job, Stop
from plant.lazy_text import gettext_lazy


class DecideForm(EntryForm):
    """Stop it, or carry on with a note until a day."""

    STOP, CARRY_ON = "stop", "carry on"
    decision = forms.ChoiceField(
        label=gettext_lazy("What is decided?"),
        choices=((STOP, gettext_lazy("Stop it")), (CARRY_ON, gettext_lazy("Carry on with a note"))),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    until = DayField(
        label=gettext_lazy("Last day of the note"),
        required=False,
        help_text=gettext_lazy(
            "At most 90 days from today. After it the machine is stopped by itself."
        ),
    )
    reason = words_field(
        gettext_lazy("Reason, and the limit of use"),
        high=400,
        required=False,
        help_text=gettext_lazy(
            "Needed to carry on: 10 letters or more. It stands on the machine's page."
        ),
    )
    answer = answer_field(
        required=False,
        help_text=gettext_lazy("Needed to carry on: 10 letters or more. Who told this reads it."),
    )

    def __init__(self, *args: Any, stop: Stop, **more: Any) -> None:
        super().__init__(*args, **more)
        if stop.always:
            field = self.fields["decision"]
            assert isinstance(field, forms.ChoiceField)
            field.choices = [(self.STOP, gettext("Stop it"))]
            del self.fields["until"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("decision") == self.CARRY_ON and not cleaned.get("until"):
            if "until" not in self.errors:
                self.add_error("until", gettext("Give the last day of the note."))
        elif "until" in cleaned:
            cleaned["until"] = (
                cleaned["until"] if cleaned.get("decision") == self.CARRY_ON else None
            )
        return cleaned


class ReleaseForm(EntryForm):
    """What is freed by name, and what was looked at."""

    def __init__(
        self,
        *args: Any,
        stops: Sequence[Stop],
        jobs: Sequence[Job],
        one_person: bool,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.stops = {str(stop.pk): stop for stop in stops}
        self.jobs = {str(job.pk): job for job in jobs}
        if stops:
            self.fields["frees"] = forms.MultipleChoiceField(
                label=gettext("What does this free?"),
                help_text=gettext("Only what is ticked is freed. All else goes on standing."),
                required=not jobs,
                error_messages={"required": gettext("Name what this release frees.")},
                choices=[(key, _told(stop)) for key, stop in self.stops.items()],
                widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
            )
        if jobs:
            self.fields["jobs"] = forms.MultipleChoiceField(
                label=gettext("Which other safety work is looked over?"),
                required=False,
                choices=[(key, str(job)) for key, job in self.jobs.items()],
                widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
            )
        for key, asked in LOOKS:
            self.fields[key] = forms.ChoiceField(
                label=gettext(asked),
                choices=(
                    (RIGHT, gettext("Yes, it is right")),
                    (NOT_RIGHT, gettext("No, it is not right")),
                    (NONE_ON_IT, gettext("There is none on it")),
                ),
                widget=forms.RadioSelect(attrs={"class": "choices"}),
            )
        if one_person:
            self.fields["reason"] = words_field(
                gettext("If the work was yours: why can nobody else check it?"),
                high=400,
                required=False,
                help_text=gettext(
                    "Needed for your own work, in 10 letters or more. It stands on record."
                ),
            )
        self.fields["note"] = words_field(gettext("Note"), high=2000, required=False)

    def frees(self) -> list[Stop]:
        return [self.stops[key] for key in self.cleaned_data.get("frees", [])]

    def looked_over(self) -> list[Job]:
        return [self.jobs[key] for key in self.cleaned_data.get("jobs", [])]

    def looks(self) -> dict[str, str]:
        return {key: self.cleaned_data[key] for key, _ in LOOKS}


def _told(stop: Stop) -> str:
    if stop.job is None:
        return stop.words
    return f"{stop.words} ({stop.job.number}, {stop.job.get_state_display()})"
