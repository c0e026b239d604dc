"""The forms of reports: paper of many machines, which messages, and a new calendar."""

from datetime import date, datetime, time
from typing import Any

from django import forms
from django.utils.translation import gettext

from maintenance.contents.due import announced
from maintenance.forms.entry import DayField, EntryForm, words_field
from maintenance.rules.due import add_months
from maintenance.rules.words import day_text
from plant.lazy_text import filled
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, Machine, MessageChoice, Role, User
from plant.rights import Right, depots_where, may, roles
from plant.signed_in import ProofForm
from plant.text import LONGEST_NUMBER, TextRefused, number_key
from reports.actions.erasure import LONGEST_REASON, SHORTEST_REASON
from reports.actions.sheet import MOST_SHEETS
from reports.models import Batch, Feed, TimedPrint
from reports.models.sheet import BY_MACHINES, RIGHTS
from reports.models.timed import DAYS

MOST_PDF = 10_000_000


class BatchForm(forms.Form):
    """Which paper, and for which machines of one depot."""

    DUE, ALL, LISTED = "due", "all", "listed"
    kind = forms.ChoiceField(
        label=_("What is printed"), widget=forms.RadioSelect(attrs={"class": "choices"})
    )
    depot = forms.ModelChoiceField(Depot.objects.none(), empty_label=None, label=_("Depot"))
    which = forms.ChoiceField(
        label=_("Machines"),
        choices=(
            (DUE, _("All that are due soon or past")),
            (ALL, _("All, or those whose number begins as written below")),
            (LISTED, _("The numbers written below")),
        ),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
        initial=DUE,
    )
    begins = forms.CharField(
        required=False,
        max_length=LONGEST_NUMBER,
        label=_("Number begins with"),
        help_text=_("For example MX. Empty for all machines of the depot."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    numbers = forms.CharField(
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 5}),
        label=_("Machine numbers"),
        help_text=filled(
            _("One a line, or with a space or comma between; at most {most}."), most=MOST_SHEETS
        ),
    )

    def __init__(self, *args: Any, user: User, at: datetime, **more: Any) -> None:
        super().__init__(*args, **more)
        self.user, self.at = user, at
        kinds = [kind for kind in BY_MACHINES if depots_where(user, RIGHTS[kind][1])]
        asked = self.fields["kind"]
        assert isinstance(asked, forms.ChoiceField)
        asked.choices = [(kind.value, kind.label) for kind in kinds]
        if kinds:
            self.initial.setdefault("kind", kinds[0])
        depots = Depot.objects.filter(pk__in=depots_where(user, Right.LABEL))
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = depots
        self.initial.setdefault("depot", depots.first())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        depot, which = cleaned.get("depot"), cleaned.get("which")
        kind = cleaned.get("kind")
        if depot is None or which is None or kind is None:
            return cleaned
        if not may(self.user, RIGHTS[Batch.Kind(kind)][1], depot.pk):
            self.add_error(
                "kind", gettext("Your role at {depot} prints others of these.").format(depot=depot)
            )
        elif which == self.DUE:
            self._due(depot)
        elif which == self.ALL:
            self._beginning(depot, cleaned.get("begins", ""))
        else:
            self._listed(depot, cleaned.get("numbers", ""))
        return cleaned

    def kind_asked(self) -> Batch.Kind:
        return Batch.Kind(self.cleaned_data["kind"])

    def machines(self) -> list[Machine]:
        """The machines asked for, in the order of their numbers."""
        return self._machines

    def _due(self, depot: Depot) -> None:
        on = depot.day_of(self.at)
        due = announced(self.user, on).filter(machine__depot=depot).order_by()
        self._machines = list(
            Machine.objects.filter(pk__in=due.values("machine")).order_by("number_key")[
                : MOST_SHEETS + 1
            ]
        )
        if not self._machines:
            self.add_error(
                "which",
                gettext("Nothing is due at {depot}. Write machine numbers instead.").format(
                    depot=depot
                ),
            )

    def _beginning(self, depot: Depot, begins: str) -> None:
        machines = Machine.objects.filter(depot=depot).in_fleet().order_by("number_key")
        if begins.strip():
            try:
                machines = machines.filter(number_key__startswith=number_key(begins))
            except TextRefused as refused:
                self.add_error("begins", str(refused))
                return
        count = machines.count()
        if not count:
            self.add_error(
                "begins", gettext("No machine of {depot} has such a number.").format(depot=depot)
            )
        elif count > MOST_SHEETS:
            self.add_error(
                "begins",
                gettext(
                    "{count} machines fit; at most {most_sheets} at a time. Write more "
                    "of the number."
                ).format(count=count, most_sheets=MOST_SHEETS),
            )
        self._machines = list(machines[: MOST_SHEETS + 1])

    def _listed(self, depot: Depot, numbers: str) -> None:
        wanted: dict[str, str] = {}
        for written in numbers.replace(",", "\n").replace(";", "\n").splitlines():
            if not written.strip():
                continue
            try:
                wanted[number_key(written)] = written.strip()
            except TextRefused as refused:
                self.add_error("numbers", str(refused))
                return
        if not wanted:
            if "numbers" not in self.errors:  # what could not be read is not called missing too
                self.add_error("numbers", gettext("Write at least one machine number."))
            return
        self._machines = list(
            Machine.objects.filter(depot=depot, number_key__in=wanted).order_by("number_key")
        )
        missing = wanted.keys() - {machine.number_key for machine in self._machines}
        if missing:
            named = ", ".join(sorted(wanted[key] for key in missing)[:10])
            self.add_error(
                "numbers",
                gettext("Not at {depot}: {named}. Nothing was asked for.").format(
                    depot=depot, named=named
                ),
            )


class BundleForm(forms.Form):
    """The period of an inspector's bundle: one of the ready ones, or two days."""

    YEAR, TWO_YEARS, ALL, DAYS = "12", "24", "all", "days"
    period = forms.ChoiceField(
        label=_("Which time"),
        widget=forms.RadioSelect(attrs={"class": "choices"}),
        initial=TWO_YEARS,
    )
    first = DayField(label=_("From"), required=False, help_text=_("For the days below alone."))
    last = DayField(label=_("To, that day included"), required=False)

    def __init__(self, *args: Any, today: date, begins: date, **more: Any) -> None:
        """Args: today: at the depot; begins: the day of the machine's first record."""
        super().__init__(*args, **more)
        self.today, self.begins = today, begins
        asked = self.fields["period"]
        assert isinstance(asked, forms.ChoiceField)
        asked.choices = [
            (self.TWO_YEARS, gettext("The last 24 months")),
            (self.YEAR, gettext("The last 12 months")),
            (self.ALL, gettext("Since its first record, {begins}").format(begins=day_text(begins))),
            (self.DAYS, gettext("The days below")),
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("period") != self.DAYS:
            return cleaned
        first, last = cleaned.get("first"), cleaned.get("last")
        for name, day in (("first", first), ("last", last)):
            if day is None and name not in self.errors:
                self.add_error(
                    name, gettext("Write the day, or choose one of the ready times above.")
                )
        if first is not None and last is not None:
            if last < first:
                self.add_error(
                    "last",
                    gettext("It lies before the first day, {first}.").format(first=day_text(first)),
                )
            elif first > self.today:
                self.add_error("first", gettext("That day is still to come."))
        return cleaned

    def days(self) -> tuple[date, date]:
        """The first and the last day, both included."""
        asked = self.cleaned_data["period"]
        if asked == self.DAYS:
            return self.cleaned_data["first"], min(self.cleaned_data["last"], self.today)
        if asked == self.ALL:
            return self.begins, self.today
        return add_months(self.today, -int(asked)), self.today


class MessagesForm(forms.Form):
    """Where messages go, and which."""

    mail = forms.EmailField(
        label=_("Your address for messages"),
        required=False,
        max_length=254,
        help_text=_(
            "Empty: nobody writes to you. A new address gets a link that proves it is yours."
        ),
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={"invalid": _("Write it like this: name@firm.example.")},
    )
    morning = forms.BooleanField(
        label=_("A message in the morning"),
        required=False,
        help_text=_(
            "At 06:30, once a day, when something waits for you. On a day when your depot is "
            "closed, only when a machine is stopped where it is used."
        ),
    )
    when_well = forms.BooleanField(
        label=_("Also when all is well"),
        required=False,
        help_text=_("On open days. Then no message means a fault."),
    )
    at_once = forms.BooleanField(
        label=_("At once, when a machine is stopped where it is used"),
        required=False,
        help_text=_(
            "Stopped while it is out, or failed its test before issue. Within two minutes."
        ),
    )
    passed_up = forms.BooleanField(
        label=_("When nobody has taken a stop"),
        required=False,
        help_text=_(
            "Once, 15 minutes after it was told, on open days from 07:00 to 17:00 "
            "(common practice, no source)."
        ),
    )
    weekly_for = forms.ModelChoiceField(
        Depot.objects.none(),
        label=_("A weekly note on Monday"),
        required=False,
        empty_label=_("No weekly note"),
        help_text=_("At most five things to do, with reason, minutes and parts."),
    )

    def __init__(self, *args: Any, user: User, choice: MessageChoice, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["weekly_for"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.SEE))
        if not depots_where(user, Right.MOVE):
            del self.fields["at_once"]
        if not any(Role.MANAGER in held for held in roles(user).values()):
            del self.fields["passed_up"]
        self.initial = {
            "mail": user.email,
            "morning": choice.morning,
            "when_well": choice.when_well,
            "at_once": choice.at_once_from is not None,
            "passed_up": choice.passed_up,
            "weekly_for": choice.weekly_for_id,
            **self.initial,
        }


class FeedForm(forms.Form):
    """A new calendar: of which depot, and what is in it."""

    depot = forms.ModelChoiceField(Depot.objects.none(), empty_label=None, label=_("Depot"))
    what = forms.ChoiceField(
        label=_("What is in it"), choices=Feed.What.choices, initial=Feed.What.ALL
    )

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["depot"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.SEE))


class SealedForm(forms.Form):
    """What stands on a paper, or its file."""

    number = forms.CharField(
        required=False,
        max_length=40,
        label=_("Record number"),
        help_text=_("As it stands at the foot of the paper, for example QM-1042."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )
    digits = forms.CharField(
        required=False,
        max_length=100,
        label=_("Hash"),
        help_text=_("The sixteen figures and letters beside it; spaces do not matter."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    file = forms.FileField(
        required=False,
        max_length=200,
        label=_("Or the file itself"),
        help_text=_("The PDF as it came to you, at most 10 MB. It is read and not kept."),
        widget=forms.FileInput(attrs={"accept": "application/pdf"}),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        file = cleaned.get("file")
        if file is not None:
            if file.size > MOST_PDF:
                self.add_error("file", gettext("The file is larger than 10 MB. It was not read."))
        elif not cleaned["number"]:
            self.add_error("number", gettext("Type the number of the record, or choose the file."))
        elif not cleaned["digits"]:
            self.add_error("digits", gettext("Type the hash too: the number alone proves nothing."))
        return cleaned


class AskErasureForm(forms.Form):
    reason = words_field(
        _("Reason"), high=LONGEST_REASON, rows=2, min_length=SHORTEST_REASON,
        help_text=_("For example: left in March, asked for it by letter. Do not write the name."),
    )  # fmt: skip


class CarryOutForm(ProofForm, EntryForm):
    own_words = forms.BooleanField(
        label=_("Also the words and photos that the person left"),
        required=False,
        help_text=_("Notes, causes and actions of jobs, reasons. Answers and figures stay."),
    )
    others_words = forms.BooleanField(
        label=_("Also where somebody else wrote the whole name"),
        required=False,
        help_text=_("Sealed words that hold it go whole; elsewhere the new name takes its place."),
    )
    kept_files = forms.BooleanField(
        label=_("Also the kept files of printed sheets that hold the name"),
        required=False,
        help_text=_("They cannot be printed again. The sheet's row then says: file erased."),
    )
    sure = forms.BooleanField(label=_("I know that this cannot be undone"))

    def __init__(self, *args: Any, alone: bool, **more: Any) -> None:
        super().__init__(*args, **more)
        if alone:
            self.fields["alone_because"] = words_field(
                gettext("Why does nobody else carry it out?"),
                high=LONGEST_REASON,
                rows=2,
                required=False,
                help_text=gettext(
                    "Only in a one-person depot, in 10 letters or more. It stands on record."
                ),
            )


class DayPaperForm(forms.Form):
    """Which paper of which day of which depot."""

    kind = forms.ChoiceField(
        label=_("What is printed"), widget=forms.RadioSelect(attrs={"class": "choices"})
    )
    depot = forms.ModelChoiceField(Depot.objects.none(), empty_label=None, label=_("Depot"))
    on = DayField(label=_("Day"))

    def __init__(self, *args: Any, user: User, at: datetime, **more: Any) -> None:
        super().__init__(*args, **more)
        asked = self.fields["kind"]
        assert isinstance(asked, forms.ChoiceField)
        asked.choices = [
            (kind.value, kind.label) for kind in (Batch.Kind.JOB_LIST, Batch.Kind.BOARD)
        ]
        self.initial.setdefault("kind", Batch.Kind.JOB_LIST)
        depots = _depots(self, user)
        first = depots.first()
        self.initial.setdefault("depot", first)
        if first is not None:
            self.initial.setdefault("on", first.day_of(at))


class TimedPrintForm(forms.Form):
    """What is printed by itself, on which days and when."""

    kind = forms.ChoiceField(
        label=_("What is printed"),
        choices=TimedPrint.What.choices,
        widget=forms.RadioSelect(attrs={"class": "choices"}),
    )
    depot = forms.ModelChoiceField(Depot.objects.none(), empty_label=None, label=_("Depot"))
    days = forms.MultipleChoiceField(
        label=_("Days of the week"),
        choices=[(str(place), word) for place, word in enumerate(DAYS)],
        widget=forms.CheckboxSelectMultiple(attrs={"class": "choices"}),
        error_messages={"required": _("Choose at least one day of the week.")},
    )
    at = forms.TimeField(
        label=_("Time of day"),
        help_text=_("Of the depot's clock, for example 06:00."),
        input_formats=["%H:%M"],
        error_messages={"invalid": _("Write the time as 06:00, from 00:00 to 23:59.")},
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
    )

    def __init__(self, *args: Any, user: User, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("depot", _depots(self, user).first())
        self.initial.setdefault("kind", TimedPrint.What.SERVICE)
        self.initial.setdefault("days", ["0"])
        self.initial.setdefault("at", time(6, 0))


def _depots(form: forms.Form, user: User) -> Any:
    """The depots of the form: those at which the person prints for many."""
    field = form.fields["depot"]
    assert isinstance(field, forms.ModelChoiceField)
    field.queryset = Depot.objects.filter(pk__in=depots_where(user, Right.PRINT_MANY))
    return field.queryset
