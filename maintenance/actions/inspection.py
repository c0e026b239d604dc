"""Look-overs and inspections: judged by the rule sheet in force, sealed, and acted on in one go."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext

from maintenance.actions.check import AnswersRefused
from maintenance.actions.competence import require
from maintenance.actions.plan import record_done
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.actions.stop import raise_stop
from maintenance.models import DueLine, Inspection, InspectionDraft, Job, RuleSheet, Skill, Stop
from maintenance.rules import check as check_rule
from maintenance.rules import inspection as rule
from maintenance.rules.sheet import Point
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical

LONGEST_WORD = 140
MOST_PHOTOS = 6
MEASURES: dict[str, units.Measure] = {
    "V": units.VOLTAGE,
    "Hz": units.FREQUENCY,
    "L/min": units.FLOW,
    "mm": units.LENGTH,
    "s": units.STANDSTILL,
}


@dataclass(frozen=True, kw_only=True)
class Told:
    """What was told of one point: an answer with its word, or a figure as it was typed."""

    answer: str = ""
    word: str = ""
    figure: units.Typed | None = None


def points(machine: Machine, kind: str, *, at: datetime) -> tuple[RuleSheet, tuple[Point, ...]]:
    """The rule sheet in force and the points that it asks of this machine.

    Raises:
        Refused: no rule sheet was brought in, or it has no list for such a machine.
    """
    try:
        sheet = RuleSheet.objects.on(machine.depot.day_of(at))
    except RuleSheet.DoesNotExist as missing:
        raise Refused(gettext("There is no rule sheet yet. Ask for one.")) from missing
    asked = sheet.points(machine, kind)
    if not asked:
        raise Refused(
            gettext("The rule sheet in force has no list for this machine. Tell the manager.")
        )
    return sheet, asked


def competence(machine: Machine, *, by: User, on: date) -> dict[str, Canonical]:
    """What the record keeps of the person's competence on the day.

    Raises:
        Refused: none for look-overs and inspections of such machines counts on that day.
    """
    return require(
        by, depot_id=machine.depot_id, skill=Skill.INSPECT, family=machine.kind.family, on=on
    )


@transaction.atomic
def record_inspection(
    *,
    machine: Machine,
    kind: str,
    told: Mapping[str, Told],
    at: datetime,
    by: User,
    isolated_at: datetime | None = None,
    note: str = "",
    photos: Mapping[str, bytes] | None = None,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Inspection:
    """Keeps a look-over or an inspection and lets it act: stops and jobs for what is wrong, a pass
    for what is well. A pass answers the wish for a first look; it frees nothing that is stopped.

    Args:
        kind: one of Inspection.Kind.
        told: point key to what was found.
        isolated_at: when this person confirmed that the machine is isolated; an inspection with
            isolated points is not taken without it.
        photos: point key (or "photo" for the whole machine) to a picture already cleaned.

    Raises:
        AnswersRefused: the answers are not exactly those asked for.
        Refused: not competent, not isolated, too many photos, or another entry has the same id.
    """
    machine = locked(machine)
    role = role_for(by, Right.CHECK, machine.depot_id)
    on = machine.depot.day_of(at)
    note = words(note, field="note", what="note", high=2000)
    clean = {
        key: Told(answer=one.answer, word=_word(key, one.word), figure=one.figure)
        for key, one in told.items()
    }
    as_told: dict[str, Canonical] = {"list": kind, "given": _as_told(clean)}
    texts = {f"word_{n}": clean[key].word for n, key in enumerate(sorted(clean), 1)}
    texts["note"] = note
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.INSPECTION, machine=machine, by=by,
        told=as_told, texts=texts,
    ):  # fmt: skip
        return before.inspection_row
    competent = competence(machine, by=by, on=on)
    if len(photos or {}) > MOST_PHOTOS:
        raise Refused(
            gettext("{most_photos} photos at most. Leave some out.").format(most_photos=MOST_PHOTOS)
        )
    sheet, asked = points(machine, kind, at=at)
    if refused := rule.isolation_refusal(asked, isolated_at=isolated_at, at=at):
        raise Refused(refused, field="isolated")
    try:
        outcome, judged = rule.judge(_found(clean, asked), asked)
    except check_rule.CheckRefused as wrong:
        raise AnswersRefused(wrong.problems) from wrong
    isolation: Canonical = None
    if isolated_at is not None and any(point.isolated for point in asked):
        isolation = {
            "isolated_by": str(by.pk),
            "isolated_at": isolated_at.astimezone(machine.depot.zone).isoformat("T", "seconds"),
        }
    record = seal(
        kind=Record.Kind.INSPECTION, depot=machine.depot, machine=machine,
        data={
            **as_told,
            "sheet": str(sheet),
            "mark": outcome.mark,
            "competence": competent,
            "isolation": isolation,
            "asked": [_as_asked(point) for point in asked],
            "judged": [
                {
                    "item": point.key,
                    "answer": judged[point.key].answer,
                    "figure": _figure(clean[point.key].figure, point),
                }
                for point in asked
            ],
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        photos=photos, record_id=record_id,
    )  # fmt: skip
    made = Inspection.objects.create(
        machine=machine, kind=kind, record=record, sheet=sheet, at=at, mark=outcome.mark
    )
    by_key = {point.key: point for point in asked}
    for key in (*outcome.stops, *outcome.decides):
        raise_stop(
            machine=machine, record=record, at=at,
            kind=Stop.Kind.STOP if key in outcome.stops else Stop.Kind.UNDECIDED,
            what=by_key[key].short, told=judged[key].word, item_key=key,
            always=key in outcome.always,
        )  # fmt: skip
    passed = outcome.mark == check_rule.PASSED
    unseen = any(by_key[key].level != check_rule.DECIDE for key in outcome.could_not)
    _note_on_machine(machine, at=at, passed=passed, wanted=unseen)
    if passed:
        _complete_lines(machine, sheet, made, on=on, at=received_at or at)
    InspectionDraft.objects.filter(machine=machine, by=by, kind=kind).delete()
    return made


@transaction.atomic
def keep_draft(
    *,
    machine: Machine,
    kind: str,
    typed: Mapping[str, str],
    at: datetime,
    by: User,
    isolated: bool = False,
) -> InspectionDraft:
    """Keeps what was typed so far, for this person alone. It seals nothing and counts for nothing.

    Args:
        isolated: the person confirms now that the machine is isolated; kept with the moment.
    """
    machine = locked(machine)
    role_for(by, Right.CHECK, machine.depot_id)
    changes: dict[str, object] = {"typed": dict(typed), "kept_at": at}
    if isolated:
        changes["isolated_at"] = at
    draft, _ = InspectionDraft.objects.update_or_create(
        machine=machine, by=by, kind=kind, defaults=changes
    )
    return draft


def _note_on_machine(machine: Machine, *, at: datetime, passed: bool, wanted: bool) -> None:
    """News may arrive late, so only the latest moment of each kind counts."""
    changed = []
    moments = (("looked_at", passed), ("passed_at", passed), ("look_wanted_at", wanted))
    for name, news in moments:
        before = getattr(machine, name)
        if news and (before is None or at > before):
            setattr(machine, name, at)
            changed.append(name)
    if changed:
        machine.save(update_fields=changed)


def _complete_lines(
    machine: Machine, sheet: RuleSheet, made: Inspection, *, on: date, at: datetime
) -> None:
    """Lines of the plan that ask for nothing more than this are done by it."""
    lines = DueLine.objects.filter(
        machine=machine, line__key__in=sheet.rules.look_over.completes
    ).select_related("line", "counter")
    for line in lines:
        told = gettext("Done by the {kind}, record {record}.").format(
            kind=made.get_kind_display().lower(), record=made.record.number
        )
        Job.objects.open().filter(due_line=line, cycle=line.cycle, done_at__isnull=True).exclude(
            state=Job.State.UNDER_WAY
        ).update(state=Job.State.CALLED_OFF, called_off_because=told, state_since=at, closed_at=at)
        record_done(due_line=line, on=on, tenths=line.total_tenths(machine), at=at)


def _found(told: Mapping[str, Told], asked: Sequence[Point]) -> dict[str, rule.Found]:
    units_of = {point.key: point.unit for point in asked}
    found = {}
    for key, one in told.items():
        figure, unit = None, units_of.get(key)
        if one.figure is not None and unit:
            # Rounded, so that 8 mm is 8 and not a hair more.
            figure = round(units.from_si(one.figure.value_si, MEASURES[unit]), 6)
        found[key] = rule.Found(answer=one.answer, word=one.word, figure=figure)
    return found


def _word(key: str, text: str) -> str:
    try:
        return words(text, field=key, what="word", high=LONGEST_WORD)
    except Refused as wrong:
        raise AnswersRefused({key: str(wrong)}) from wrong


def _as_told(told: Mapping[str, Told]) -> list[Canonical]:
    """What was told in the order of the keys; the words stand apart, where they can be erased."""
    return [
        {
            "item": key,
            "answer": told[key].answer or None,
            "figure": _as_typed(told[key].figure),
            "text": f"word_{n}" if told[key].word else None,
        }
        for n, key in enumerate(sorted(told), 1)
    ]


def _as_typed(figure: units.Typed | None) -> str | None:
    return None if figure is None else figure.text_as_typed


def _figure(typed: units.Typed | None, point: Point) -> Canonical:
    if typed is None:
        return None
    return {
        "typed": typed.text_as_typed,
        "si": units.decimal_string(typed.value_si),
        "unit": MEASURES[point.unit].si,
    }


def _as_asked(point: Point) -> Canonical:
    asked: dict[str, Canonical] = {
        "item": point.key,
        "group": point.group,
        "short": point.short,
        "words": point.words,
        "level": point.level,
        "isolated": point.isolated,
    }
    if point.limit:
        asked |= {"limit": point.limit, "source": point.source, "trust": point.trust}
    return asked
