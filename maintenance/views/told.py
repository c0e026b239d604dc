"""What this phone told by label: remembered in a cookie of its own, so that it may read the answer.

Who holds a label may read how the machine stands, but not who has a fault in hand or what was
written to the one who told it. That is for the phone that told it: the names of records that it
sent stand in a signed cookie, which no script and no other address of ours reads.
"""

import uuid

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.crypto import constant_time_compare

from plant.models import Machine, Record

TOLD_COOKIE = "told_here"
KEPT_FOR_S = 180 * 24 * 3600
MOST_KEPT = 20
KINDS = (Record.Kind.CHECK, Record.Kind.FAULT, Record.Kind.STOP)
_COOKIE, _RECEIPT = "what a phone told", "receipt of a record"


def told_here(request: HttpRequest) -> list[uuid.UUID]:
    """The records that this phone sent by labels, the newest last; nothing by a forged cookie."""
    try:
        named = signing.loads(
            request.COOKIES.get(TOLD_COOKIE, ""), salt=_COOKIE, max_age=KEPT_FOR_S
        )
        return [uuid.UUID(each) for each in named]
    except (signing.BadSignature, ValueError, TypeError, AttributeError):
        return []


def remember_told(request: HttpRequest, response: HttpResponse, record: Record) -> None:
    """Adds the record to those that this phone sent."""
    kept = [each for each in told_here(request) if each != record.pk][1 - MOST_KEPT :]
    named = [each.hex for each in (*kept, record.pk)]
    response.set_cookie(
        TOLD_COOKIE,
        signing.dumps(named, salt=_COOKIE),
        max_age=KEPT_FOR_S,
        path="/q/",
        secure=settings.TLS,
        httponly=True,
        samesite="Lax",
    )


def told_of(request: HttpRequest, machine: Machine) -> list[Record]:
    """What this phone told of this one machine, the newest first."""
    kept = told_here(request)
    found = Record.objects.filter(pk__in=kept, machine=machine, kind__in=KINDS, by=None)
    newest = (
        found.select_related("check_row")
        .prefetch_related("stops_made")
        .order_by("-happened_at", "-seq")
    )
    return list(newest) if kept else []


def receipt_address(record: Record, *, code: str) -> str:
    """The answer page of a record, with what proves that this phone sent it."""
    return f"{sent_address(record, code=code)}?receipt={_receipt(record)}"


def sent_address(record: Record, *, code: str) -> str:
    return reverse("maintenance:label_sent", args=[code, record.pk])


def is_receipt(text: str, record: Record) -> bool:
    """Whether this is the receipt that was given for the record."""
    return constant_time_compare(text, _receipt(record))


def _receipt(record: Record) -> str:
    return signing.Signer(salt=_RECEIPT).signature(str(record.pk))
