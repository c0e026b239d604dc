"""The form of the day sheet, how long somebody is there, and what a job takes and when."""

from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.actions.work_done import MOST_MINUTES
from maintenance.contents.day import workers
from maintenance.forms.entry import FIRST_DAY, DayField, EntryForm
from maintenance.models import Job
from plant.fields import WholeField
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, User
from plant.rights import Right, depots_where

GIVE, BACK, EARLIER, LATER, OPEN = "give", "back", "earlier", "later", "open"


class DayForm(EntryForm):
    """Choose a job, choose a person, give it out; or take it back, or change its place."""

    job = forms.ModelChoiceField(
        Job.objects.none(),
        label=_("Job"),
        error_messages={
            "required": _("Choose a job first."),
            "invalid_choice": _("Choose a job here."),
        },
    )
    to = forms.ModelChoiceField(
        User.objects.none(), label=_("To"), required=False, empty_label=_("Choose a person")
    )
    for_day = DayField(label=_("For the day"))
    act = forms.ChoiceField(
        required=False,
        choices=[
            (GIVE, _("Give out")),
            (BACK, _("Take back")),
            (EARLIER, _("Earlier")),
            (LATER, _("Later")),
            (OPEN, _("Open the job")),
        ],
    )

    def __init__(self, *args: Any, depot: Depot, **more: Any) -> None:
        super().__init__(*args, **more)
        job, to = self.fields["job"], self.fields["to"]
        assert isinstance(job, forms.ModelChoiceField)
        assert isinstance(to, forms.ModelChoiceField)
        job.queryset = Job.objects.filter(machine__depot=depot).select_related("machine__depot")
        to.queryset = workers(depot)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        cleaned["act"] = cleaned.get("act") or GIVE
        if cleaned["act"] == GIVE and not cleaned.get("to") and "to" not in self.errors:
            self.add_error("to", gettext("Choose a person first."))
        return cleaned


class DayFilter(forms.Form):
    """Which day of which depot; a depot of one's own."""

    depot = forms.ModelChoiceField(
        Depot.objects.none(), required=False, empty_label=None, label=_("Depot")
    )
    on = DayField(label=_("Day"), required=False)

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.WORK))


class FitterDayForm(EntryForm):
    minutes = WholeField(
        label=_("Minutes there on this day"),
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        help_text=_("0: off this day. Leave it empty to go by the depot's week."),
    )


class PlanJobForm(EntryForm):
    minutes = WholeField(
        label=_("Expected to take, in minutes"),
        required=False,
        min_value=1,
        max_value=MOST_MINUTES,
        help_text=_("Leave it empty to go by the plan of the service."),
    )
    promised_at = forms.DateTimeField(
        label=_("Promised for"),
        required=False,
        help_text=_(
            "When somebody counts on the machine. Leave it empty where nothing is promised."
        ),
        widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}),
    )

    def clean_promised_at(self) -> Any:
        promised = self.cleaned_data["promised_at"]
        if promised is not None and promised.date() < FIRST_DAY:
            raise forms.ValidationError(gettext("Give a later moment."))
        return promised
