"""What every file that people bring goes through: taken in, read, sorted again, a yes, dropped."""

import hashlib
import io
import secrets
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, BinaryIO, TypeVar

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _

from plant import spreadsheets
from plant.actions.refusal import Refused
from plant.models import BroughtFile, BroughtRow, Depot, User
from plant.rights import Right, role_for
from plant.security_log import note
from plant.text import TextRefused, clean

BLOCK = 500
READY = "ready"
_Step, _State = BroughtFile.Step, BroughtFile.State
R = TypeVar("R", bound=BroughtFile)


class TooOften(Refused):
    """The person has brought too many files in one hour."""


def take_in(
    kind: type[R],
    *,
    right: Right,
    file: BinaryIO,
    file_name: str,
    depot: Depot,
    by: User,
    at: datetime,
    most_an_hour: int,
) -> R:
    """Takes a file in; the background is to read it. Nothing of it is saved yet.

    Raises:
        Refused: too large, not a spreadsheet, or without rows; at the field ``file``.
        PermissionError: the person may not bring such a file into this depot.
    """
    role_for(by, right, depot.pk)
    runs: Any = kind._default_manager
    lately = runs.filter(asked_by=by, asked_at__gt=at - timedelta(hours=1))
    if lately.count() >= most_an_hour:
        raise TooOften(
            _("You have brought {most_an_hour} files in an hour. Wait a while.").format(
                most_an_hour=most_an_hour
            )
        )
    try:
        name = clean(file_name, low=1, high=120, lines=False)
    except TextRefused as wrong:
        raise Refused(
            _("The name of the file: {wrong}").format(wrong=wrong), field="file"
        ) from wrong
    data = file.read(spreadsheets.MOST_BYTES + 1)
    try:
        sheet = spreadsheets.read(io.BytesIO(data), name)
        if next(sheet.rows, None) is None:
            raise spreadsheets.FileRefused(_("The file has headings but no rows under them."))
    except spreadsheets.FileRefused as wrong:
        raise Refused(str(wrong), field="file") from wrong
    run = kind(
        depot=depot,
        asked_by=by,
        asked_at=at,
        file_name=name,
        sha256=hashlib.sha256(data).hexdigest(),
    )
    # What the person calls it is shown, never used as a path.
    run.file.save(secrets.token_hex(16), ContentFile(data), save=False)
    run.save()
    note("file brought", user=by, of=kind._meta.label, row=run.pk, depot=depot.pk)
    return run


def read_in(run: R, *, at: datetime, sort: Callable[[R], Sequence[BroughtRow]]) -> bool:
    """Reads the file and sorts its rows; False when another worker has it, or it is finished.

    Running it again gives the same rows. ``sort`` fills headings, columns, questions and answers.
    """
    runs: Any = type(run)._default_manager
    if not runs.filter(step=_Step.READ).claim(run.pk, at=at):
        return False
    run = runs.select_related("asked_by", "depot").get(pk=run.pk)
    held = runs.all().held(run.pk, claimed_at=at)
    try:
        rows = sort(run)
    except (spreadsheets.FileRefused, OSError) as wrong:
        gone = _("The file is no longer there. Bring it in again.")
        why = gone if isinstance(wrong, OSError) else str(wrong)
        held.update(state=_State.FAILED, why=why[:400], ended_at=at)
        return False
    except Exception:
        held.update(lease_until=at)
        raise
    with transaction.atomic():
        now_ = held.select_for_update().first()
        if now_ is None or now_.step != _Step.READ:
            return False  # dropped meanwhile, or asked afresh and taken by another worker
        now_.rows.all().delete()
        now_.rows.bulk_create(rows, batch_size=BLOCK)
        run.step, run.state, run.why = _Step.ASK, _State.DONE, ""
        run.save(
            update_fields=["step", "state", "why", "headings", "columns", "questions", "answers"]
        )
    return True


def sort_again(
    run: R, *, right: Right, columns: Mapping[str, str], answers: Mapping[str, Any], by: User
) -> R:
    """Takes other columns or answers, and asks the background to sort the rows afresh.

    Raises:
        Refused: it is being saved, saved or dropped.
    """
    with transaction.atomic():
        run = _locked(run, right=right, by=by)
        if run.step not in (_Step.READ, _Step.ASK):
            raise Refused(_("This file is past sorting. Bring it in again."))
        run.columns, run.answers = dict(columns), dict(answers)
        run.step, run.state, run.attempts, run.why = _Step.READ, _State.ASKED, 0, ""
        run.save()
    return run


def say_yes(run: R, *, right: Right, by: User) -> R:
    """Asks the background to save the rows that are ready. Saying it twice changes nothing.

    Raises:
        Refused: it is still being read, was dropped, or no row is ready.
    """
    with transaction.atomic():
        run = _locked(run, right=right, by=by)
        stopped = run.step == _Step.SAVE and run.state == _State.FAILED
        if run.step in (_Step.SAVE, _Step.SAVED) and not stopped:
            return run
        if run.step == _Step.DROPPED:
            raise Refused(_("This file was dropped. Bring it in again."))
        if run.step == _Step.READ:
            raise Refused(_("The file is not read yet. Wait until its rows are sorted."))
        rows: Any = run
        if not rows.rows.filter(verdict=READY).exists():
            raise Refused(_("No row is ready. Put the file right, or answer its questions."))
        run.step, run.state, run.attempts, run.why = _Step.SAVE, _State.ASKED, 0, ""
        run.said_yes_by = by
        run.save()
    note("import begun", user=by, of=run._meta.label, row=run.pk, depot=run.depot_id)
    return run


def drop(run: R, *, right: Right, by: User, at: datetime, saved: str) -> R:
    """Drops the file before anything is saved.

    Args:
        saved: in words, what is saved already when it is too late.

    Raises:
        Refused: something of it is saved, or being saved.
    """
    with transaction.atomic():
        run = _locked(run, right=right, by=by)
        if run.step in (_Step.SAVE, _Step.SAVED):
            raise Refused(
                _("{saved} of this file are saved already. It cannot be dropped.").format(
                    saved=saved
                )
            )
        run.step, run.state, run.ended_at, run.why = _Step.DROPPED, _State.DONE, at, ""
        rows: Any = run
        rows.rows.all().delete()
        # Removed after the commit; until then a roll-back must find it.
        if run.file:
            storage, path = run.file.storage, str(run.file.name)
            transaction.on_commit(lambda: storage.delete(path), robust=True)
            run.file = ""
        run.save()
    return run


def leftovers(kind: type[BroughtFile], *, at: datetime) -> list[tuple[int, str]]:
    """Parks what has stopped three times; gives key and step of what waits for a worker."""
    runs: Any = kind._default_manager
    runs.all().park_hopeless(at)
    waiting = runs.all().waiting(at).filter(step__in=(_Step.READ, _Step.SAVE))
    return list(waiting.order_by("asked_at").values_list("pk", "step"))


def _locked(run: R, *, right: Right, by: User) -> R:
    runs: Any = type(run)._default_manager
    found: R = runs.select_for_update().get(pk=run.pk)
    role_for(by, right, found.depot_id)
    return found
