"""What a record puts right, and what later ones put right of it."""

import json
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from maintenance.contents.record import text_of, who
from maintenance.rules.words import iso_text
from plant.models import Record, User


@dataclass(frozen=True)
class PutRight:
    """One thing that was put right: what was told first, what is right, and by which record.

    record: None where another depot put it right, whose records this person does not see.
    """

    record: Record | None
    was: str = ""
    now: str = _("put right in another depot")
    who: str = ""
    why: str = ""


def put_right(record: Record, user: User) -> list[PutRight]:
    """What this record puts right, and what later ones put right of it, oldest first."""
    found = [record] if record.kind == Record.Kind.CORRECTION else []
    found += following(record)
    if record.kind == Record.Kind.METER and '"questioned":""' not in record.content:
        found += told_fully().filter(
            kind=Record.Kind.DECISION, machine=record.machine_id, content__contains=str(record.pk)
        )
    seen = Record.objects.visible_to(user).filter(pk__in=[each.pk for each in found])
    shown = set(seen.values_list("pk", flat=True)) if found else set()
    found.sort(key=lambda each: (each.happened_at, each.received_at, each.seq))
    return [_put_right(each) if each.pk in shown else PutRight(None) for each in found]


def told_fully() -> QuerySet[Record]:
    """Records with all that is said of a correction read ahead."""
    return Record.objects.select_related("by", "depot").prefetch_related("texts")


def following(record: Record) -> Iterable[Record]:
    """Each correction of the record, and of that correction, wherever it was sealed."""
    wanted = [record.pk]
    while wanted:
        # A correction is made after what it corrects, so this ends.
        found = list(told_fully().filter(corrects__in=wanted))
        yield from found
        wanted = [each.pk for each in found]


def _put_right(record: Record) -> PutRight:
    data = json.loads(record.content)["data"]
    if "figure" in data:
        was, now = gettext("questioned, and moved nothing"), str(data["decision"])
    elif "reading_of" in data:
        was, now = data["was"], data["now"]
    elif "was_done_on" in data:
        was = gettext("done on {was_done_on}").format(was_done_on=iso_text(data["was_done_on"]))
        now = (
            gettext("done on {done_on}").format(done_on=iso_text(data["done_on"]))
            if data["done_on"]
            else gettext("not done")
        )
    elif "was_fitted" in data:
        was, now = (
            data["was_mark"],
            data["mark"] if data["was_fitted"] else gettext("no belt was fitted"),
        )
    else:
        was = gettext("calibration of {done_on}").format(done_on=iso_text(data["done_on"]))
        if data.get("certificate"):
            was = gettext("{calibration}, certificate {certificate}").format(
                calibration=was, certificate=data["certificate"]
            )
        now = gettext("struck out: entered by mistake")
    reason = text_of(record, "reason") or gettext("words erased")
    return PutRight(record, was, now, who(record), reason)
