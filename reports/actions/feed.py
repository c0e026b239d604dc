"""Calendars: a link made, withdrawn, and found again by its code; what changed since before."""

import hashlib
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from plant.actions.refusal import Refused
from plant.calendar_out import Event
from plant.links import uid_of
from plant.models import Depot, User
from plant.rights import Right, may
from reports.models import Feed, FeedEvent

MOST_FEEDS = 10
# What a calendar was told of an event that is no longer in it is kept for so long.
KEPT = timedelta(days=400)


@transaction.atomic
def add_feed(*, user: User, depot: Depot, what: Feed.What, at: datetime) -> Feed:
    """A new private link.

    Raises:
        Refused: not a depot of theirs, or they have many already.
    """
    User.objects.select_for_update().only("pk").get(pk=user.pk)
    if not may(user, Right.SEE, depot.pk):
        raise Refused(_("Choose one of your depots. Nothing was made."), field="depot")
    if Feed.objects.filter(user=user, withdrawn_at__isnull=True).count() >= MOST_FEEDS:
        raise Refused(
            _("You have {most_feeds} calendars already. Withdraw one first.").format(
                most_feeds=MOST_FEEDS
            )
        )
    return Feed.objects.create(user=user, depot=depot, what=what, made_at=at)


def withdraw_feed(*, user: User, pk: int, at: datetime) -> None:
    """Ends one of the person's own links at once.

    Raises:
        Refused: it is not theirs, or was withdrawn before.
    """
    own = Feed.objects.filter(user=user, pk=pk, withdrawn_at__isnull=True)
    if not own.update(withdrawn_at=at):
        raise Refused(
            _("This calendar is not yours, or was withdrawn before. Nothing was changed.")
        )
    FeedEvent.objects.filter(feed=pk).delete()


def numbered(feed: Feed, events: Iterable[Event], *, at: datetime) -> list[Event]:
    """The events with their revisions: each goes up by one when what the event says has changed.

    Calendar programs tell people of changes, so working a due date out afresh to the same answer
    is none. Two fetches at once give the same numbers.
    """
    kept = {row.uid: row for row in FeedEvent.objects.filter(feed=feed)}
    told: list[Event] = []
    changed: list[FeedEvent] = []
    for event in events:
        digest = _digest(event)
        row = kept.get(event.uid)
        if row is None or row.digest != digest:
            revision = 0 if row is None else row.revision + 1
            row = FeedEvent(
                feed=feed, uid=event.uid, digest=digest, revision=revision, changed_at=at
            )
            changed.append(row)
        told.append(replace(event, revision=row.revision, changed_at=row.changed_at))
    FeedEvent.objects.bulk_create(
        changed, update_conflicts=True, unique_fields=("feed", "uid"),
        update_fields=("digest", "revision", "changed_at"),
    )  # fmt: skip
    now_told = {event.uid for event in told}
    gone = [uid for uid, row in kept.items() if uid not in now_told and row.changed_at < at - KEPT]
    FeedEvent.objects.filter(feed=feed, uid__in=gone).delete()
    return told


def _digest(event: Event) -> str:
    said = (event.on, event.summary, event.description, event.address, event.cancelled)
    return hashlib.sha256(repr(said).encode()).hexdigest()[:32]


def fetched(code: str) -> Feed | None:
    """The calendar behind a link that still opens; None alike for every reason that it does not."""
    uid = uid_of("feed", code)
    if uid is None:
        return None
    feed = (
        Feed.objects.select_related("user", "depot")
        .filter(uid=uid, withdrawn_at__isnull=True)
        .first()
    )
    if feed is None or not may(feed.user, Right.SEE, feed.depot_id):
        return None
    return feed
