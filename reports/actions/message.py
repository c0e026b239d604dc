"""Messages: what a person chooses, which are promised when, and how each is sent once.

The row is the promise. Whoever dies between handing a message over and noting it leaves it to be
sent again: at least once, never lost. Both copies carry one Message-ID, which mail programs fold.
"""

import logging
import smtplib
from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import date, datetime, time, timedelta
from urllib.parse import urlsplit
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db import DatabaseError, transaction
from django.utils.translation import gettext

from maintenance.contents.open_days import open_days
from maintenance.models import Job, Stop
from maintenance.rules import passing_up
from plant.actions.refusal import Refused
from plant.models import Depot, Membership, Message, MessageChoice, Role, User
from plant.models.message import MessageQuerySet, mail_key
from plant.rights import TABLE, Right, may, roles
from reports.actions.note import note_for
from reports.contents import message as contents
from reports.contents.letter import Letter, html, one_line, plain
from reports.contents.note import weekly
from reports.contents.way_in import way_in

log = logging.getLogger(__name__)
Clock = Callable[[], datetime]

MORNING_FROM, MORNING_UNTIL = time(6, 30), time(12, 0)
MONDAY, TUESDAY = 0, 1
# News older than this is in the morning message by now.
NEWS = timedelta(days=1)
# An older stop has stood in the morning message and on Today for days.
PASSED_UP_WITHIN = timedelta(days=7)
# A refused message is tried again after this, then after twice as long each time.
FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=2), timedelta(hours=4)
GIVEN_UP_AFTER = timedelta(days=1)
# Rows only guard against a second message, so they are not needed for long.
KEPT = timedelta(days=60)
PROOFS_AN_HOUR = 5


# --- What a person chooses -----------------------------------------------------------------


@transaction.atomic
def choose(
    *,
    user: User,
    mail: str,
    morning: bool,
    when_well: bool,
    at_once: bool,
    weekly_for: Depot | None,
    at: datetime,
    passed_up: bool = True,
) -> bool:
    """Keeps what the person chose; returns whether a proof of a new address was asked for.

    Raises:
        Refused: a depot or a kind of message that is not theirs, or too many proofs asked for.
    """
    user = User.objects.select_for_update().get(pk=user.pk)
    if weekly_for is not None and not may(user, Right.SEE, weekly_for.pk):
        raise Refused(
            gettext("Choose one of your depots. Nothing was changed."), field="weekly_for"
        )
    if at_once and not any(may(user, Right.MOVE, depot_id) for depot_id in roles(user)):
        raise Refused(gettext("Messages at once go to who issues machines."), field="at_once")
    choice, _ = MessageChoice.objects.get_or_create(user=user)
    choice.morning, choice.when_well, choice.weekly_for = morning, when_well, weekly_for
    choice.passed_up = passed_up
    if not at_once:
        choice.at_once_from = None
    elif choice.at_once_from is None:
        choice.at_once_from = at
    choice.save()
    is_new = mail != user.email
    if is_new:
        user.email = mail
        user.save(update_fields=["email"])
        # What waits for the address before has nobody to go to.
        Message.objects.open().filter(person=user, address_refused=True).update(
            state=Message.State.DONE, ended_at=at, why=""
        )
    choice.user = user
    if not is_new or not mail or choice.is_proved or not settings.MAIL_ON:
        return False
    _ask_proof(user, at=at)
    return True


@transaction.atomic
def ask_proof(*, user: User, at: datetime) -> None:
    """Sends the link that proves the address once more.

    Raises:
        Refused: there is no address, it is proved, no mail is sent, or it was asked too often.
    """
    user = User.objects.select_for_update().get(pk=user.pk)
    choice, _ = MessageChoice.objects.get_or_create(user=user)
    choice.user = user
    if not user.email:
        raise Refused(gettext("Write your address first."), field="mail")
    if choice.is_proved:
        raise Refused(gettext("This address is proved already. Nothing was sent."))
    if not settings.MAIL_ON:
        raise Refused(gettext("This system sends no mail. Ask your administrator."))
    _ask_proof(user, at=at)


def _ask_proof(user: User, *, at: datetime) -> None:
    asked = Message.objects.filter(person=user, kind=Message.Kind.PROOF)
    if asked.filter(asked_at__gt=at - timedelta(hours=1)).count() >= PROOFS_AN_HOUR:
        raise Refused(
            gettext("The link was sent {proofs_an_hour} times in an hour. Wait an hour.").format(
                proofs_an_hour=PROOFS_AN_HOUR
            ),
            field="mail",
        )
    depot = Depot.objects.filter(pk__in=roles(user)).first()
    if depot is None:
        raise Refused(gettext("You work at no depot now. Nothing was sent."))
    key = mail_key(user.email)
    Message.promised(
        kind=Message.Kind.PROOF, thing=f"{key} {asked.count() + 1}", person=user, depot=depot, at=at
    ).save()


@transaction.atomic
def prove(*, user: User, message: Message | None, at: datetime) -> None:
    """The person opened the link that was sent to the address, so it is theirs.

    Raises:
        Refused: not their link, too old, or the address has changed since.
    """
    user = User.objects.select_for_update().get(pk=user.pk)
    if message is None or not is_proof(message, user=user, at=at):
        raise Refused(
            gettext("This link is not good any more. Ask for another on the page Messages.")
        )
    choice, _ = MessageChoice.objects.get_or_create(user=user)
    choice.proved_key, choice.proved_at = mail_key(user.email), at
    choice.save(update_fields=["proved_key", "proved_at"])


def is_proof(message: Message, *, user: User, at: datetime) -> bool:
    """Whether this proof is this person's, fresh, and of the address as it is now."""
    return (
        message.kind == Message.Kind.PROOF
        and message.person_id == user.pk
        and bool(user.email)
        and message.thing.split()[0] == mail_key(user.email)
        and at < message.asked_at + contents.PROOF_FOR
    )


# --- Which are promised --------------------------------------------------------------------


def morning_day(at: datetime, zone: ZoneInfo) -> date | None:
    """The day whose morning message is due at that moment, by the clock on the wall there."""
    local = at.astimezone(zone)
    return local.date() if MORNING_FROM <= local.time() < MORNING_UNTIL else None


def note_week(at: datetime, zone: ZoneInfo) -> date | None:
    """The Monday whose note is due at that moment; until Tuesday noon, where Monday was missed."""
    local = at.astimezone(zone)
    now = (local.weekday(), local.time())
    if (MONDAY, MORNING_FROM) <= now < (TUESDAY, MORNING_UNTIL):
        return local.date() - timedelta(days=local.weekday())
    return None


def promise(*, at: datetime) -> int:
    """Promises every message that is due now; returns how many were new. Twice is harmless."""
    if not settings.MAIL_ON:
        return 0
    choices = [each for each in MessageChoice.objects.proved() if each.is_proved]
    if not choices:
        return 0
    homes = _homes(choices)
    rows = [*_mornings(choices, homes, at=at), *_notes(choices, homes, at=at)]
    rows += _stopped(choices, at=at)
    rows += _passed_up(choices, at=at)
    return _new(rows)


def promise_one(*, kind: Message.Kind, user: User, depot: Depot, at: datetime) -> Message:
    """One morning message or weekly note now, whatever the hour; for who shows it to somebody."""
    on = depot.day_of(at)
    thing = on if kind == Message.Kind.MORNING else on - timedelta(days=on.weekday())
    row = Message.promised(kind=kind, thing=thing.isoformat(), person=user, depot=depot, at=at)
    row.save()
    return row


def _homes(choices: Iterable[MessageChoice]) -> dict[int, Depot]:
    """By person, the depot whose clock their day goes by: the first by name, as on every page."""
    members = Membership.objects.filter(user__in=[each.user_id for each in choices])
    homes: dict[int, Depot] = {}
    for member in sorted(members.select_related("depot"), key=lambda each: each.depot.name):
        homes.setdefault(member.user_id, member.depot)
    return homes


def _mornings(
    choices: Iterable[MessageChoice], homes: dict[int, Depot], *, at: datetime
) -> Iterable[Message]:
    for choice in choices:
        depot = homes.get(choice.user_id)
        day = morning_day(at, depot.zone) if depot and choice.morning else None
        if depot and day:
            yield Message.promised(
                kind=Message.Kind.MORNING, thing=day.isoformat(), person=choice.user, depot=depot,
                at=at,
            )  # fmt: skip


def _notes(
    choices: Iterable[MessageChoice], homes: dict[int, Depot], *, at: datetime
) -> Iterable[Message]:
    depots = Depot.objects.in_bulk({each.weekly_for_id for each in choices if each.weekly_for_id})
    for choice in choices:
        depot = depots.get(choice.weekly_for_id or 0)
        week = note_week(at, depot.zone) if depot and choice.user_id in homes else None
        if depot and week:
            yield Message.promised(
                kind=Message.Kind.WEEKLY, thing=week.isoformat(), person=choice.user, depot=depot,
                at=at,
            )  # fmt: skip


def _stopped(choices: Iterable[MessageChoice], *, at: datetime) -> Iterable[Message]:
    """One for each record that stopped a machine in use, and each person who chose to hear."""
    listening = [each for each in choices if each.at_once_from]
    if not listening:
        return
    stops = (
        Stop.objects.standing()
        .filter(record__received_at__gt=at - NEWS)
        .exclude(kind=Stop.Kind.CARRY_ON)
        .select_related("machine__depot", "record", "job")
    )
    told = {stop.record_id: stop for stop in stops if contents.at_once(stop) and _is_news(stop)}
    if not told:
        return
    moving = defaultdict(set)
    members = Membership.objects.filter(
        user__in=[each.user_id for each in listening],
        depot__in={stop.machine.depot_id for stop in told.values()},
        role__in=TABLE[Right.MOVE][0],
    )
    for user_id, depot_id in members.values_list("user_id", "depot_id"):
        moving[depot_id].add(user_id)
    for record_id, stop in told.items():
        for choice in listening:
            heard = choice.at_once_from
            here = choice.user_id in moving[stop.machine.depot_id]
            if here and heard and stop.record.received_at >= heard:
                yield Message.promised(
                    kind=Message.Kind.STOPPED, thing=str(record_id), person=choice.user,
                    depot=stop.machine.depot, at=at,
                )  # fmt: skip


def _passed_up(choices: Iterable[MessageChoice], *, at: datetime) -> Iterable[Message]:
    """One for each stop told at once that nobody took in time, and each manager of its depot.

    Only in working hours, so that a message is met by somebody; after days of silence the next
    working minute makes good what was missed.
    """
    managers = defaultdict(list)
    choosing = {each.user_id: each.user for each in choices if each.passed_up}
    members = Membership.objects.filter(user__in=choosing, role=Role.MANAGER)
    for user_id, depot_id in members.values_list("user_id", "depot_id"):
        managers[depot_id].append(choosing[user_id])
    if not managers:
        return
    stops = (
        Stop.objects.standing()
        .filter(
            job__in=Job.objects.nobody_has(),
            decided_by__isnull=True,
            machine__depot__in=managers,
            record__received_at__gt=at - PASSED_UP_WITHIN,
            record__received_at__lte=at - passing_up.WAIT,
        )
        .exclude(kind=Stop.Kind.CARRY_ON)
        .select_related("machine__depot", "record", "job")
    )
    told = {stop.record_id: stop for stop in stops if contents.at_once(stop) and _is_news(stop)}
    weeks = open_days(stop.machine.depot_id for stop in told.values())
    for record_id, stop in told.items():
        depot, is_open = stop.machine.depot, weeks[stop.machine.depot_id].is_open
        due = passing_up.due_at(stop.record.received_at, zone=depot.zone, is_open=is_open)
        works = passing_up.is_working(at, zone=depot.zone, is_open=is_open)
        if due is None or due > at or not works:
            continue
        for person in managers[depot.pk]:
            yield Message.promised(
                kind=Message.Kind.NOBODY, thing=str(record_id), person=person, depot=depot, at=at
            )


def _is_news(stop: Stop) -> bool:
    """Not one more report of what an open job is about already."""
    return stop.job is None or stop.job.opened_by_record_id in (None, stop.record_id)


def _new(rows: list[Message]) -> int:
    there = set(
        Message.objects.filter(thing__in={row.thing for row in rows}).values_list(
            "kind", "thing", "person_id"
        )
    )
    new = [row for row in rows if (row.kind, row.thing, row.person_id) not in there]
    # Where two timers come here at once, the key lets one row through.
    Message.objects.bulk_create(new, ignore_conflicts=True)
    return len(new)


# --- How they are sent ---------------------------------------------------------------------


def send_waiting(*, clock: Clock, until: datetime) -> int:
    """Sends what waits, the urgent first; returns how many went. Any number may do this at once.

    A server that takes nothing ends the run; the rest is tried at the next turn of the timer.
    """
    if not settings.MAIL_ON:
        return 0
    count = 0
    while (at := clock()) < until:
        pk = Message.objects.waiting(at).values_list("pk", flat=True).first()
        if pk is None:
            break
        if not Message.objects.claim(pk, at=at):
            Message.objects.park_hopeless(at)
            continue
        sent, goes_on = _send(pk, claimed_at=at, clock=clock)
        count += sent
        if not goes_on:
            break
    return count


def clear_old(*, at: datetime) -> None:
    Message.objects.filter(ended_at__lt=at - KEPT).delete()


def _send(pk: int, *, claimed_at: datetime, clock: Clock) -> tuple[bool, bool]:
    """Writes and sends one claimed message: whether it went, and whether the run goes on."""
    held = Message.objects.held(pk, claimed_at=claimed_at)
    message = Message.objects.select_related("person__message_choice", "depot").get(pk=pk)
    try:
        letter = _letter(message, at=claimed_at)
        mail = _mail(letter, message) if letter is not None else None
    except (OSError, DatabaseError):
        held.update(lease_until=claimed_at)
        raise
    except Exception as wrong:
        # One odd message must not keep the others back.
        log.exception("message not written", extra={"row": pk})
        held.update(
            state=Message.State.FAILED,
            ended_at=clock(),
            why=gettext("It could not be written ({name}). Tell your administrator.").format(
                name=type(wrong).__name__
            ),
        )
        return False, True
    if mail is None:
        held.update(state=Message.State.DONE, ended_at=clock(), why="")
        return False, True
    try:
        mail.send()
    except (OSError, smtplib.SMTPException) as refused:
        return False, _refused(message, refused, held=held, at=clock())
    at = clock()
    held.update(state=Message.State.DONE, sent_at=at, ended_at=at, refused_since=None, why="")
    # The server takes mail again, so what it refused goes now.
    Message.objects.refused().filter(address_refused=False, due_at__gt=at).update(due_at=at)
    return True, True


def _letter(message: Message, *, at: datetime) -> Letter | None:
    """The words as things are now; None where there is nobody, or nothing, to tell."""
    person = message.person
    if message.kind == Message.Kind.WAY_IN:
        return way_in(message, at=at)
    choice = getattr(person, "message_choice", None)
    if not person.is_active or choice is None or not person.email:
        return None
    if message.kind == Message.Kind.PROOF:
        return contents.proof(message) if is_proof(message, user=person, at=at) else None
    choice.user = person
    if not choice.is_proved or not roles(person):
        return None
    if message.kind == Message.Kind.STOPPED:
        return contents.stopped(person, record_id=UUID(message.thing), at=at)
    if message.kind == Message.Kind.NOBODY:
        return contents.nobody_has(person, record_id=UUID(message.thing), at=at)
    if message.kind == Message.Kind.WEEKLY:
        note = note_for(
            person=person, depot=message.depot, week_of=date.fromisoformat(message.thing), at=at
        )
        return weekly(note, at=at) if note and (note.lines or choice.when_well) else None
    if message.thing != message.depot.day_of(at).isoformat():
        return None  # refused for so long that the next morning has its own
    told = contents.morning(person, at=at)
    return contents.all_well(person, at=at) if told is None and choice.when_well else told


def _mail(letter: Letter, message: Message) -> EmailMultiAlternatives:
    host = urlsplit(settings.SITE_ADDRESS).hostname or "localhost"
    mail = EmailMultiAlternatives(
        subject=one_line(letter.subject, longest=150),
        body=plain(letter),
        to=[message.person.email],
        headers={
            # The same at every try. RFC 3834: no out-of-office note answers a program.
            "Message-ID": f"<{message.uid.hex}@{host}>",
            "Auto-Submitted": "auto-generated",
        },
    )
    mail.attach_alternative(html(letter), "text/html")
    return mail


def _refused(message: Message, refused: Exception, *, held: MessageQuerySet, at: datetime) -> bool:
    """Puts the message back with a growing wait, or parks it; whether the server takes others."""
    code, said = _answer(refused)
    address_alone = isinstance(refused, smtplib.SMTPRecipientsRefused) and code != 421
    said = one_line(said.replace(message.person.email, gettext("the address")), longest=150).rstrip(
        "."
    )
    why = f"{code} {said}." if code else f"{said}."
    given_up = at - message.asked_at >= GIVEN_UP_AFTER
    wait = min(FIRST_WAIT * 2 ** min(message.refusals, 10), LONGEST_WAIT)
    held.update(
        state=Message.State.FAILED if given_up else Message.State.ASKED,
        lease_until=None,
        attempts=0,
        refusals=min(message.refusals + 1, 1000),
        refused_since=message.refused_since or at,
        address_refused=address_alone,
        due_at=at + wait,
        ended_at=at if given_up else None,
        why=why,
    )
    log.warning("mail refused", extra={"row": message.pk, "code": code})
    return address_alone


def _answer(refused: Exception) -> tuple[int, str]:
    """The server's code and words; 0 and our own words where it gave none."""
    code, said = 0, b""
    if isinstance(refused, smtplib.SMTPRecipientsRefused):
        code, said = next(iter(refused.recipients.values()))
    elif isinstance(refused, smtplib.SMTPResponseException):
        code, error = refused.smtp_code, refused.smtp_error
        said = error if isinstance(error, bytes) else str(error).encode()
    if code:
        return code, said.decode("utf-8", errors="replace")
    if isinstance(refused, TimeoutError) or "timed out" in str(refused):
        return 0, gettext("The mail server did not answer in time")
    if isinstance(refused, smtplib.SMTPServerDisconnected):
        return 0, gettext("The mail server broke off")
    return 0, gettext("The mail server cannot be reached ({name})").format(
        name=type(refused).__name__
    )
