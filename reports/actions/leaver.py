"""Somebody leaves: the account ends together with the links that open without a password."""

from datetime import datetime

from django.db import transaction

from plant.actions import account
from plant.models import Message, User
from plant.models.work import BackgroundWork
from reports.models import Feed, WeeklyNote


@transaction.atomic
def end_account(*, person: User, at: datetime, by: User) -> User:
    """Ends the account, its calendars and notes, and the mail that was not sent yet.

    Raises:
        Refused: see plant.actions.account.end_account.
    """
    ended = account.end_account(person=person, at=at, by=by)
    Feed.objects.filter(user=ended).delete()
    WeeklyNote.objects.filter(person=ended).delete()
    waiting = Message.objects.filter(person=ended).open()
    waiting.update(state=BackgroundWork.State.DONE, ended_at=at)
    return ended
