"""The plain moves, and a machine written off."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.forms.entry import EntryForm, words_field
from maintenance.models import Job
from plant.lazy_text import gettext_lazy


class MoveForm(EntryForm):
    """One of the plain moves that this person may make from here."""

    move = forms.ChoiceField(
        label=gettext_lazy("What happens to it?"),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    reason = words_field(
        gettext_lazy("Why, or what is known"), high=400, rows=2, required=False,
        help_text=gettext_lazy("Needed when it is missing."),
    )  # fmt: skip

    def __init__(self, *args: Any, moves: Sequence[tuple[str, str]], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["move"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(moves)


class WriteOffForm(EntryForm):
    """Gone for good: why, and each open job called off by name."""

    def __init__(self, *args: Any, jobs: Sequence[Job], **more: Any) -> None:
        super().__init__(*args, **more)
        self.jobs = {str(job.pk): job for job in jobs}
        if jobs:
            self.fields["jobs"] = forms.MultipleChoiceField(
                label=gettext("Which open jobs are called off?"),
                help_text=gettext("All of them have to be named."),
                required=False,
                choices=[(key, str(job)) for key, job in self.jobs.items()],
                widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
            )
        self.fields["reason"] = words_field(
            gettext("Why it is gone"), high=300, rows=2,
            help_text=gettext("Sold, scrapped, stolen and settled. 10 letters or more."),
        )  # fmt: skip

    def named(self) -> list[Job]:
        return [self.jobs[key] for key in self.cleaned_data.get("jobs", [])]
