"""Everything that is held on one person, as that person may take it along: JSON, in pieces."""

import json
import re
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.utils.translation import gettext as _

from maintenance.models import Competence, Labour
from plant.models import (
    Membership,
    Message,
    MessageChoice,
    OneTime,
    PhoneCode,
    Record,
    SignedIn,
    User,
    WayIn,
)
from plant.sealing import moment
from reports.models import Feed, WeeklyNote

BLOCK = 500
# Names of other people, and of firms, that the system put into a record beside who signed it.
_OTHERS = re.compile(
    r"(step_\d+_\d+|finding_\d+)_by|learner_\d+|taken_by|hirer(_phone)?|site_phone"
)
_OF_A_COMPETENCE = frozenset({"person", "told", "reason"})


def own_data(user: User, *, at: datetime) -> Iterator[str]:
    """The pieces of one JSON text; moments in UTC, figures with their unit as they were typed.

    Names of other people that the system put in are left out; what the person wrote may name some.
    """
    head: dict[str, Any] = {
        "made_at": moment(at),
        "account": {
            "number": user.pk, "sign_in_name": user.sign_in, "name": user.name,
            "e_mail": user.email, "lengths_in": user.lengths,
        },
        "roles": [
            {"depot": each.depot.name, "role": each.role, "learner": each.learner}
            for each in Membership.objects.filter(user=user).select_related("depot")
        ],
        "competences": [
            {
                "for": each.skill, "machines": each.for_machines, "depot": each.depot.name,
                "from": each.valid_from.isoformat(),
                "last_day": each.valid_until.isoformat() if each.valid_until else None,
                "told": each.told,
                "ended_on": each.ended_on.isoformat() if each.ended_on else None,
                "ended_because": each.ended_because,
            }
            for each in Competence.objects.filter(user=user).select_related("depot")
        ],
        "work": [
            {"job": each.job.number, "minutes": each.minutes, "as_learner": each.learner}
            for each in Labour.objects.filter(person=user).select_related("job").order_by("pk")
        ],
        "messages": {
            "chosen": list(
                MessageChoice.objects.filter(user=user).values(
                    "morning", "when_well", "passed_up", "weekly_for__name"
                )
            ),
            "sent": Message.objects.filter(person=user, sent_at__isnull=False).count(),
        },
        "calendars": [
            {"depot": each.depot.name, "what": each.what, "made_at": moment(each.made_at)}
            for each in Feed.objects.filter(user=user).select_related("depot")
        ],
        "weekly_notes": WeeklyNote.objects.filter(person=user).count(),
        "code_for_shared_phones_set_at": [
            moment(each) for each in PhoneCode.objects.filter(user=user).values_list(
                "set_at", flat=True
            )
        ],
        "password_set_at": moment(user.password_set_at) if user.password_set_at else None,
        "one_time_codes_set_up_at": [
            moment(each.confirmed_at)
            for each in OneTime.objects.filter(user=user)
            if each.confirmed_at
        ],
        "links_to_set_a_password_made_at": [
            moment(each.made_at) for each in WayIn.objects.filter(user=user)
        ],
        "signed_in": [
            {"on": each.device, "since": moment(each.begun_at), "last_used": moment(each.seen_at)}
            for each in SignedIn.objects.filter(user=user)
        ],
        "sessions": sum(
            session.get_decoded().get(SESSION_KEY) == str(user.pk)
            for session in Session.objects.filter(expire_date__gt=at).iterator()
        ),
    }  # fmt: skip
    text = json.dumps(head, ensure_ascii=False, indent=1)
    yield text.rpartition("\n}")[0] + ',\n "records": ['
    rows = (
        Record.objects.filter(by=user)
        .select_related("depot", "machine")
        .prefetch_related("texts", "photos")
        .order_by("depot_id", "seq")
    )
    between = "\n"
    for record in rows.iterator(chunk_size=BLOCK):
        yield between + json.dumps(_told(record, user), ensure_ascii=False)
        between = ",\n"
    yield "\n]}\n"


# Where records name people by their numbers.
_ACCOUNTS = ("account", "by", "isolated_by")


def _told(record: Record, user: User) -> dict[str, Any]:
    data = json.loads(record.content)["data"]
    about_people = (Record.Kind.COMPETENCE, Record.Kind.ACCESS)
    of_another = record.kind in about_people and data.get("account") != str(user.pk)

    def is_own(name: str, text: str) -> bool:
        if of_another and name in _OF_A_COMPETENCE:
            return False
        return not _OTHERS.fullmatch(name) or text == user.name

    return {
        "number": record.number,
        "kind": record.kind,
        "machine": record.machine.number if record.machine else None,
        "role": record.role,
        "happened_at": moment(record.happened_at),
        "received_at": moment(record.received_at),
        "words": {
            each.name: "erased" if each.erased_at else each.text
            for each in record.texts.all()
            if is_own(each.name, each.text)
        },
        "photos": [each.name for each in record.photos.all()],
        "figures_and_answers": _own_figures(data, str(user.pk)),
    }


def _own_figures(told: Any, own: str) -> Any:
    """The same without the numbers of other people's accounts."""
    if isinstance(told, dict):
        return {
            key: _("another account")
            if key in _ACCOUNTS and value not in (own, None)
            else _own_figures(value, own)
            for key, value in told.items()
        }
    return [_own_figures(each, own) for each in told] if isinstance(told, list) else told
