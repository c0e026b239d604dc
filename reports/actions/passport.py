"""The passport that goes with an issue."""

from datetime import datetime

from maintenance.models import Stay
from plant.models import User
from reports.actions.sheet import ask_sheets
from reports.models import Batch


def ask_passport_of(stay: Stay, *, by: User, at: datetime) -> Batch:
    """Asks for the passport of a machine that is issued; for the same issue once only.

    Call inside the transaction of the issue: a machine that is out has its passport asked for.

    Raises:
        PermissionError: no role of theirs prints passports here.
    """
    found: Batch | None = Batch.objects.filter(issue=stay.record).first()
    if found is not None:
        return found
    machine = stay.machine
    return ask_sheets(
        depot=machine.depot, machines=[machine], by=by, at=at, kind=Batch.Kind.PASSPORT,
        issue=stay.record,
    )  # fmt: skip
