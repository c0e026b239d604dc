"""What is worth trying on a practice machine, in order, with the page of each."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from maintenance.models import Job
from plant.models import Drive, Machine, User
from plant.rights import Right, may


@dataclass(frozen=True)
class Try:
    """One thing to try, and the address of its page."""

    what: str
    words: str
    address: str


def tries(machine: Machine, user: User) -> list[Try]:
    """Those of the person's role."""
    drive = machine.drives.filter(kind=Drive.Kind.BELT).order_by("stage").first()
    job = Job.objects.open().filter(machine=machine).order_by("pk").first()
    of_machine, of_drive = [machine.pk], [drive.pk if drive else 0]
    # A belt is changed under a job, as on a real machine.
    change = (
        (_("Two of its size lie on the practice rack."), "change_belt", [job.pk, *of_drive])
        if job
        else (_("Open a job for it; then the way is here."), "add_job", of_machine)
    )
    found = (
        (Right.CHECK, _("Check it"), _("Answer one question with Wrong and see what happens."),
         "check", of_machine),
        (Right.CHECK, _("Report a fault"), _("Say that the drum does not turn."),
         "report_fault", of_machine),
        (Right.CHECK, _("Read its meter"), _("It showed 120.0 h. Enter more, then less."),
         "add_meter_figure", of_machine),
        (Right.WORK, _("Find the fault"), _("Isolate it first. You are led from test to test."),
         "find_fault", of_machine),
        (Right.WORK, _("Measure its belt"), _("Press Top width and enter 11.2 mm."),
         "drive", of_drive),
        (Right.WORK, _("Change its belt"), *change),
        (Right.WORK, _("Test it electrically"),
         _("Choose Practice tester. Enter a pass, then a failure, and print its tag."),
         "add_test", of_machine),
        (Right.PRINT, _("Print its sheet"), _("Look for PRACTICE across the paper."),
         "machine", of_machine),
    )  # fmt: skip
    return [
        Try(what, words, reverse(f"maintenance:{name}", args=of))
        for right, what, words, name, of in found
        if may(user, right, machine.depot_id)
    ]
