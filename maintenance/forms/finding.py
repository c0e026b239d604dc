"""Finding a fault: the symptom to begin from, an answer, counted turns, and guards back on."""

from typing import Any

from django import forms

from maintenance.forms.entry import EntryForm
from maintenance.models import Job
from maintenance.rules.finding_sheet import Symptom
from plant.fields import WholeField
from plant.lazy_text import gettext_lazy as _
from plant.models import Machine


class SymptomForm(EntryForm):
    symptom = forms.ChoiceField(
        label=_("What does it do?"), widget=forms.RadioSelect(attrs={"class": "choices"})
    )

    def __init__(self, *args: Any, symptoms: tuple[Symptom, ...], **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["symptom"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(each.key, each.words) for each in symptoms]


class FindFaultForm(SymptomForm):
    """From the machine: the symptom, and the job that it is for."""

    job = forms.ModelChoiceField(
        Job.objects.none(), label=_("For which job?"), required=False, blank=True,
        empty_label=_("A job of its own"),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )  # fmt: skip

    def __init__(self, *args: Any, machine: Machine, **more: Any) -> None:
        super().__init__(*args, **more)
        jobs = (
            Job.objects.open()
            .filter(machine=machine, kind__in=(Job.Kind.FAULT, Job.Kind.BELT, Job.Kind.SERVICE))
            .exclude(state=Job.State.DONE)
        )
        field = self.fields["job"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = jobs
        field.initial = jobs.filter(kind__in=(Job.Kind.FAULT, Job.Kind.BELT)).first()
        if not jobs:
            del self.fields["job"]


class AnswerForm(EntryForm):
    """One press of a button: the test and what was seen."""

    test = forms.CharField(max_length=30)
    answer = forms.CharField(max_length=30)


class CountForm(EntryForm):
    """The test that a reading from before the finding answers."""

    test = forms.CharField(max_length=30)


class TurnsForm(EntryForm):
    turns = WholeField(label=_("Turns counted"), min_value=1, max_value=100_000)
    seconds = WholeField(label=_("In so many seconds"), min_value=10, max_value=600, initial=60)


class GuardsBackForm(EntryForm):
    guards_back = forms.BooleanField(
        label=_("All guards are back and fixed, and nobody is near"), required=False
    )


class StepForm(EntryForm):
    """The answer that is taken back, by its key."""

    step = forms.IntegerField(min_value=1, max_value=2**53)
