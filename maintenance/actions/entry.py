"""Entries that a phone kept: each taken once, whenever and however often it is sent."""

import re
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from maintenance.actions.check import Dial, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.permit import PermitRefused, Permitted, read_permit
from maintenance.actions.stop import stop_machine
from maintenance.rules import check as check_rule
from maintenance.rules import clock as clock_rule
from plant import units
from plant.actions.refusal import Refused
from plant.models import Machine, Measure, Place, Record
from plant.sealing import Canonical

# 2: a check may carry what the meter shows ("dial") and a photo for each item; 3: and what each
# counter shows ("counts", by what it counts).
SCHEMAS = ("1", "2", "3")
MOST_AT_ONCE = 50
KINDS = ("check", "fault", "stop")
_COUNT = re.compile(r"[0-9]{1,8}")


@dataclass(frozen=True)
class Result:
    """What became of one entry.

    state: kept (now or before), wait (send it again later), attention (a person must look).
    record: its sealed record when kept; words: for the person when not.
    """

    id: str
    state: Literal["kept", "wait", "attention"]
    record: Record | None = None
    words: str = ""


@dataclass(frozen=True)
class _Entry:
    """One entry with every part of the right kind."""

    id: uuid.UUID
    kind: str
    machine: int
    permit: str
    at: datetime
    by_name: str
    given: Mapping[str, Any]


def take(
    entry: object,
    *,
    sent_at: datetime,
    received_at: datetime,
    photos: Mapping[str, bytes] | None = None,
    count: Callable[[Machine], None] = lambda machine: None,
) -> Result:
    """Takes one entry, whatever it holds; a bad one is answered in words and saves nothing.

    Args:
        entry: as it came: id, schema, kind, machine, permit, device_time, device_seq, by_name and
            what the kind asks for.
        sent_at: by the phone's clock.
        photos: already cleaned.
        count: called for an entry by label before it is saved; raises Refused to hold it back.
    """
    shown = str(entry.get("id", "")) if isinstance(entry, Mapping) else ""
    try:
        read = _read(entry)
        machine = Machine.objects.select_related("depot").filter(pk=read.machine).first()
        if machine is None:
            raise PermitRefused  # in the words for any other machine that is not one's own
        permitted = read_permit(read.permit, machine=machine, by_name=read.by_name)
    except (Refused, PermissionError) as refused:
        return Result(shown, "attention", words=str(refused))
    if permitted.by is None and not Record.objects.filter(pk=read.id).exists():
        try:
            count(machine)
        except Refused as held:
            return Result(shown, "wait", words=str(held))
    told = clock_rule.effective(device=read.at, sent=sent_at, received=received_at)
    beside: dict[str, Canonical] = {
        **permitted.beside,
        "phone": {
            "clock": told.clock or None,
            "told_time": read.at.isoformat(),
            "held_for_manager": told.held,
        },
    }
    if machine.place == Place.GONE:
        beside["phone"] = {**_map(beside["phone"]), "machine_was": "gone"}
    try:
        record = _save(
            read, machine=machine, permitted=permitted, at=told.at, received_at=received_at,
            beside=beside, photos=photos, clock_off=bool(told.clock),
        )  # fmt: skip
    except Refused as refused:
        return Result(shown, "attention", words=str(refused))
    except IntegrityError:
        # The same entry is being saved at this very moment by another request.
        return Result(shown, "wait", words=_("It is being saved already."))
    return Result(shown, "kept", record=record)


def _map(part: Canonical) -> dict[str, Canonical]:
    return part if isinstance(part, dict) else {}


def _save(
    read: _Entry,
    *,
    machine: Machine,
    permitted: Permitted,
    at: datetime,
    received_at: datetime,
    beside: dict[str, Canonical],
    photos: Mapping[str, bytes] | None,
    clock_off: bool,
) -> Record:
    common: dict[str, Any] = {
        "machine": machine,
        "at": at,
        "received_at": received_at,
        "by": permitted.by,
        "by_name": "" if permitted.by else read.by_name,
        "record_id": read.id,
        "role": permitted.role,
        "beside": beside,
    }
    by_label = permitted.by is None
    with transaction.atomic():
        if read.kind == "check":
            dial, no_figure = _dial(read.given)
            counts, no_counts = _counts(read.given, machine)
            done = record_check(
                answers=_answers(read.given), photos=photos, by_label=by_label, dial=dial,
                counts=counts, note=" ".join([*no_figure, *no_counts]),
                pace=_pace(read.given), clock_off=clock_off, **common,
            )  # fmt: skip
            return done.record
        told = _text(read.given, "told")
        if read.kind == "stop":
            return stop_machine(told=told, **common).record
        report_fault(
            part=_text(read.given, "part"),
            told=told,
            stop_now=read.given.get("stop_now") is True,
            photos=photos,
            by_label=by_label,
            **common,
        )
        return Record.objects.get(pk=read.id)


def _read(entry: object) -> _Entry:
    if not isinstance(entry, Mapping):
        raise Refused(_("This entry cannot be read."))
    if entry.get("schema") not in SCHEMAS:
        raise Refused(_("This entry is of an older form. Tell your foreman by word."))
    if entry.get("kind") not in KINDS:
        raise Refused(_("This entry is of no known kind."))
    try:
        number = uuid.UUID(_text(entry, "id"))
        at = datetime.fromisoformat(_text(entry, "device_time"))
        machine = int(_text(entry, "machine"))
    except (ValueError, OverflowError) as odd:
        raise Refused(_("This entry cannot be read.")) from odd
    if at.tzinfo is None or not clock_rule.is_told(at) or not 0 < machine < 2**63:
        raise Refused(_("This entry cannot be read."))
    return _Entry(
        id=number,
        kind=str(entry["kind"]),
        machine=machine,
        permit=_text(entry, "permit"),
        at=at,
        by_name=_text(entry, "by_name", missing=""),
        given=entry,
    )


def _text(entry: Mapping[str, Any], name: str, *, missing: str | None = None) -> str:
    value = entry.get(name, missing)
    if not isinstance(value, str) or len(value) > 4000:
        raise Refused(_("This entry cannot be read."))
    return value


def _dial(entry: Mapping[str, Any]) -> tuple[Dial | None, list[str]]:
    """What the meter shows; or a note with what was typed, since no figure keeps a check back."""
    typed = _text(entry, "dial", missing="").strip()[:100]
    if not typed:
        return None, []
    try:
        read = units.read(typed, units.HOURS)
    except units.NotAccepted:
        return None, [_("Typed for the meter, but no figure: {typed}").format(typed=typed)]
    return Dial(units.tenths_of_hour(read.value_si), read.text_as_typed), []


def _counts(entry: Mapping[str, Any], machine: Machine) -> tuple[dict[str, Dial], list[str]]:
    """What each counter of the machine shows; and notes of what was typed and is no figure.

    A check starts no counter, so what the machine does not count is a note too.
    """
    told = entry.get("counts", {})
    if not isinstance(told, Mapping) or len(told) > len(Measure):
        raise Refused(_("This entry cannot be read."))
    found: dict[str, Dial] = {}
    notes = []
    known = set(machine.counters.values_list("measure", flat=True))
    for measure in told:
        typed = _text(told, measure).strip()[:100]
        whole = _COUNT.fullmatch(typed)
        if whole and measure in known:
            found[measure] = Dial(int(typed) * 10, typed)
        elif typed:
            notes.append(
                _("Typed for the counter of {measure}, but not kept: {typed}.").format(
                    measure=str(measure)[:20], typed=typed
                )
            )
    return found, notes


def _pace(entry: Mapping[str, Any]) -> dict[str, int]:
    """[0.1 s] by question. Hearsay, so what is odd is left out, and refuses nothing."""
    told = entry.get("pace")
    if not isinstance(told, Mapping):
        return {}
    return {str(key): n for key, n in told.items() if type(n) is int}


def _answers(entry: Mapping[str, Any]) -> dict[str, check_rule.Given]:
    answers = entry.get("answers")
    if not isinstance(answers, Mapping) or len(answers) > 40:
        raise Refused(_("This entry holds no answers."))
    given = {}
    for key, answer in answers.items():
        if not isinstance(answer, Mapping):
            raise Refused(_("This entry cannot be read."))
        said = next((a for a in check_rule.ANSWERS if a == answer.get("answer")), None)
        if said is None:
            raise Refused(_("An answer is OK, Wrong or Could not check."))
        given[str(key)[:80]] = check_rule.Given(answer=said, word=_text(answer, "word", missing=""))
    return given
