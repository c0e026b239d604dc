"""Pre-use checks: judged by the rule sheet in force, sealed, and acted on in one go."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.meter import HOURS, figure, record_meter
from maintenance.actions.signing import locked, sealed_before, signing_role, words
from maintenance.actions.stop import raise_stop
from maintenance.contents.check_due import wanted_of
from maintenance.models import Check, MeterReading, Pace, RuleSheet, Stop
from maintenance.rules import check as rule
from maintenance.rules.sheet import Question
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right
from plant.sealing import Canonical

LONGEST_WORD = 140
MOST_PHOTOS = 6
# A question that took longer was left open while something else was done.
LONGEST_TENTHS = 36_000
# Long enough to see a habit change; what proves nothing is not kept for longer.
PACE_KEPT = timedelta(days=180)


@dataclass(frozen=True)
class Dial:
    """What a meter showed at a check: [0.1 h], or of a count [0.1], and as it was typed."""

    tenths: int
    typed: str


class AnswersRefused(Refused):
    """The answers do not fit the questions; problems says what is wrong, by item key."""

    def __init__(self, problems: Mapping[str, str]) -> None:
        super().__init__(" ".join(problems.values()))
        self.problems = dict(problems)


def questions(machine: Machine, *, at: datetime) -> tuple[RuleSheet, tuple[Question, ...]]:
    """The rule sheet in force and the questions that it asks of this machine.

    Raises:
        Refused: no rule sheet was brought in, or it asks nothing of such a machine.
    """
    try:
        sheet = RuleSheet.objects.on(machine.depot.day_of(at))
    except RuleSheet.DoesNotExist as missing:
        raise Refused(_("There are no check questions yet. Ask for a rule sheet.")) from missing
    items = sheet.questions(machine)
    if not items:
        raise Refused(_("The rule sheet asks nothing of this kind of machine. Tell the manager."))
    return sheet, items


@transaction.atomic
def record_check(
    *,
    machine: Machine,
    answers: Mapping[str, rule.Given],
    at: datetime,
    received_at: datetime | None = None,
    by: User | None = None,
    by_name: str = "",
    by_label: bool = False,
    note: str = "",
    photos: Mapping[str, bytes] | None = None,
    dial: Dial | None = None,
    counts: Mapping[str, Dial] | None = None,
    record_id: uuid.UUID | None = None,
    role: str = "",
    beside: Mapping[str, Canonical] | None = None,
    pace: Mapping[str, int] | None = None,
    clock_off: bool = False,
) -> Check:
    """Keeps a check and lets it act: stops and jobs for what is wrong, a pass for what is well.

    A meter figure becomes a reading of its own in the same transaction, and so does each count. One
    that does not fit is kept as questioned: it never keeps a check from being saved.

    Args:
        answers: item key to answer; wrong and could not check need a word.
        at: when it was done; received_at: when it was told (None: at once).
        by: who did it; None with ``by_name`` for somebody who came by the machine's label.
        by_label: came by the label, with an account or without.
        photos: item key, or "photo" for the whole machine, to a picture already cleaned
            (plant/photos.py); six at most.
        dial: what the meter shows; None: no figure was given.
        counts: what each counter shows, by what it counts.
        record_id: given once for each check, so that sending it again changes nothing.
        role: settled already by a permit (actions/permit.py); empty: found from the right.
        beside: what else the record says, of the phone that kept it for instance.
        pace: [0.1 s] how long each question took, as far as the phone told it; it never keeps a
            check back, and what cannot be is left out.
        clock_off: the phone's clock had to be put right.

    Raises:
        AnswersRefused: the answers are not exactly those asked for.
        Refused: too many photos, no questions, no name, or another entry has the same id.
    """
    machine = locked(machine)
    role = role or signing_role(machine=machine, by=by, by_name=by_name, right=Right.CHECK)
    by_name = by_name.strip() if by is None else ""
    note = words(note, field="note", what="note", high=2000)
    given = {
        key: rule.Given(answer=one.answer, word=_word(key, one.word))
        for key, one in answers.items()
    }
    # Compared before the questions are read, since a newer rule sheet may ask others by now.
    told: dict[str, Canonical] = {
        "given": _as_told(given),
        "dial": figure(dial.tenths, dial.typed) if dial else None,
        "counters": {
            measure: figure(one.tenths, one.typed, measure)
            for measure, one in sorted((counts or {}).items())
        }
        or None,
    }
    texts = {f"word_{n}": given[key].word for n, key in enumerate(sorted(given), 1)}
    texts["note"] = note
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.CHECK, machine=machine, by=by, by_name=by_name,
        told=told, texts=texts,
    ):  # fmt: skip
        return before.check_row
    if len(photos or {}) > MOST_PHOTOS:
        raise Refused(
            _("At most {most_photos} photos a check. Not saved. Take some off.").format(
                most_photos=MOST_PHOTOS
            )
        )
    sheet, items = questions(machine, at=at)
    try:
        outcome = rule.outcome(given, [item.item() for item in items])
    except rule.CheckRefused as wrong:
        raise AnswersRefused(wrong.problems) from wrong
    by_key = {item.key: item for item in items}
    looks = [key for key in outcome.could_not if by_key[key].level != rule.DECIDE]
    _note_on_machine(machine, at=at, passed=outcome.mark == rule.PASSED, wanted=bool(looks))
    data: dict[str, Canonical] = {
        "sheet": str(sheet),
        "mark": outcome.mark,
        "asked": [
            {"item": item.key, "short": item.short, "words": item.words, "level": item.level}
            for item in items
        ],
        "next_check": wanted_of(machine, at=at, sheet=sheet).sealed(),
        **{key: part for key, part in told.items() if part is not None or key == "dial"},
        **(beside or {}),
    }
    record = seal(
        kind=Record.Kind.CHECK, depot=machine.depot, machine=machine, data=data,
        happened_at=at, received_at=received_at or at, by=by, by_name=by_name, role=role,
        texts=texts, photos=photos, record_id=record_id,
    )  # fmt: skip
    check = Check.objects.create(
        machine=machine,
        record=record,
        sheet=sheet,
        at=at,
        mark=outcome.mark,
        by_label=by_label or by is None,
        reading=_reading(dial, machine=machine, record=record, role=role, by_name=by_name),
    )
    for measure, one in (counts or {}).items():
        _reading(one, measure=measure, machine=machine, record=record, role=role, by_name=by_name)
    took = {key: n for key, n in (pace or {}).items() if key in by_key and 0 <= n <= LONGEST_TENTHS}
    if took or clock_off:
        Pace.objects.create(check_row=check, tenths=took, clock_off=clock_off)
    for key in (*outcome.stops, *outcome.decides):
        raise_stop(
            machine=machine,
            record=record,
            at=at,
            kind=Stop.Kind.STOP if key in outcome.stops else Stop.Kind.UNDECIDED,
            what=by_key[key].short,
            told=given[key].word,
            item_key=key,
            always=key in outcome.always,
        )
    return check


def clear_old_paces(*, at: datetime) -> int:
    """Forgets how long the questions of old checks took."""
    return Pace.objects.filter(check_row__at__lt=at - PACE_KEPT).delete()[0]


def _reading(
    dial: Dial | None,
    *,
    machine: Machine,
    record: Record,
    role: str,
    by_name: str,
    measure: str = HOURS,
) -> MeterReading | None:
    """The figure as a reading of its own; one that fits no running hours stays in the check."""
    if dial is None:
        return None
    try:
        return record_meter(
            machine=machine, dial_tenths=dial.tenths, typed=dial.typed, measure=measure,
            at=record.happened_at, received_at=record.received_at, by=record.by, by_name=by_name,
            confirmed=True, role=role, beside={"check": str(record.pk)},
        )  # fmt: skip
    except Refused:
        return None


def _note_on_machine(machine: Machine, *, at: datetime, passed: bool, wanted: bool) -> None:
    """News may arrive late, so only the latest moment of each kind counts.

    A check answers a wish for a check, never one for a competent person's first look.
    """
    changed = []
    if passed and (machine.passed_at is None or at > machine.passed_at):
        machine.passed_at = at
        changed.append("passed_at")
    if wanted and (machine.check_wanted_at is None or at > machine.check_wanted_at):
        machine.check_wanted_at = at
        changed.append("check_wanted_at")
    if changed:
        machine.save(update_fields=changed)


def _word(key: str, text: str) -> str:
    try:
        return words(text, field=key, what="word", high=LONGEST_WORD)
    except Refused as wrong:
        raise AnswersRefused({key: str(wrong)}) from wrong


def _as_told(given: Mapping[str, rule.Given]) -> list[Canonical]:
    """The answers in the order of their keys; the words stand apart, where they can be erased."""
    return [
        {
            "item": key,
            "answer": given[key].answer,
            "text": f"word_{n}" if given[key].word else None,
        }
        for n, key in enumerate(sorted(given), 1)
    ]
