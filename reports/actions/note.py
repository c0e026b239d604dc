"""Weekly notes: made once a week, opened by their link, withdrawn."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from plant.actions.refusal import Refused
from plant.links import uid_of
from plant.models import Depot, User
from plant.rights import Right, may
from reports.contents.note import chosen
from reports.models import WeeklyNote


@transaction.atomic
def note_for(*, person: User, depot: Depot, week_of: date, at: datetime) -> WeeklyNote | None:
    """The person's note of that week, made now where there is none; None where it is not theirs.

    A new note takes the place of the one before, whose link then opens nothing. A note that was
    withdrawn stays withdrawn.
    """
    User.objects.select_for_update().only("pk").get(pk=person.pk)
    if not may(person, Right.SEE, depot.pk):
        return None
    own = WeeklyNote.objects.filter(person=person)
    note = own.filter(depot=depot, week_of=week_of).first()
    if note is not None:
        return note if note.is_open(at) else None
    own.filter(withdrawn_at__isnull=True).update(withdrawn_at=at)
    lines, left_out = chosen(depot, on=depot.day_of(at))
    return WeeklyNote.objects.create(
        person=person, depot=depot, week_of=week_of, made_at=at, lines=lines, left_out=left_out
    )


def withdraw_note(*, user: User, at: datetime) -> None:
    """Ends the link of the person's open note at once.

    Raises:
        Refused: no link of theirs is open.
    """
    if not WeeklyNote.objects.filter(person=user, withdrawn_at__isnull=True).update(
        withdrawn_at=at
    ):
        raise Refused(_("No link of a weekly note is open. Nothing was changed."))


def opened(code: str, *, at: datetime) -> WeeklyNote | None:
    """The note behind a link that still opens; None alike for every reason that it does not."""
    uid = uid_of("note", code)
    if uid is None:
        return None
    note = WeeklyNote.objects.select_related("person", "depot").filter(uid=uid).first()
    if note is None or not note.is_open(at) or not may(note.person, Right.SEE, note.depot_id):
        return None
    return note
