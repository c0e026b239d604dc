"""Electrical tests: readings in, the result worked out, a failure stopping the machine."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from maintenance.actions.signing import is_learner, locked, sealed_before, signing_role, words
from maintenance.actions.stop import raise_stop
from maintenance.contents.competence import standing
from maintenance.models import ElectricalTest, RuleSheet, Skill, Stop
from maintenance.rules import electrical as rule
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right
from plant.sealing import Canonical

ITEM_KEY = "rcd_test"
# The multiples of the rated residual current that are tested, and the name of each field.
FACTORS: tuple[tuple[str, float, str], ...] = (
    ("half", 0.5, "At half the rated current"),
    ("rated", 1.0, "At the rated current"),
    ("five", 5.0, "At five times the rated current"),
)


@dataclass(frozen=True, kw_only=True)
class Trip:
    """One reading: the time as typed and in seconds; no time where it did not trip."""

    typed: str
    seconds: float | None


def profiles_in_force(machine: Machine, *, at: datetime) -> tuple[rule.RcdProfile, ...]:
    """The device standards of the rule sheet in force.

    Raises:
        Refused: there is no rule sheet, or it holds no limits for RCDs.
    """
    try:
        found = RuleSheet.objects.on(machine.depot.day_of(at)).rules.rcd
    except RuleSheet.DoesNotExist:
        found = ()
    if not found:
        raise Refused("There are no RCD limits yet. Ask for a rule sheet.")
    return found


@transaction.atomic
def record_rcd_test(
    *,
    machine: Machine,
    profile: str,
    readings: Mapping[str, Trip],
    instrument: str,
    calibrated_until: date | None,
    at: datetime,
    by: User,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> ElectricalTest:
    """Keeps an RCD trip test. Passed or not is worked out from the readings, never typed.

    A failure is always kept: it stops the machine, whoever measured and with whatever.

    Args:
        profile: key of the standard marked on the device.
        readings: "half", "rated" and "five", each a Trip.
        instrument: name and number of the tester.
        calibrated_until: last day of its calibration; without it, or after it, nothing passes.

    Raises:
        Refused: a reading missing or out of range, or a pass that this instrument or this person
            cannot give.
    """
    machine = locked(machine)
    role = signing_role(machine=machine, by=by, by_name="", right=Right.WORK)
    instrument = words(instrument, field="instrument", what="instrument", low=1, high=80)
    note = words(note, field="note", what="note", high=2000)
    told: dict[str, Canonical] = {
        "profile": profile,
        "instrument": instrument,
        "calibrated_until": calibrated_until.isoformat() if calibrated_until else None,
        "readings": [_told(name, readings) for name, _, _ in FACTORS],
    }
    texts = {"note": note}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.TEST, machine=machine, by=by, by_name="",
        told=told, texts=texts,
    ):  # fmt: skip
        return before.test_row
    device = next((p for p in profiles_in_force(machine, at=at) if p.key == profile), None)
    if device is None:
        raise Refused("Choose the standard that is marked on the device.", field="profile")
    judged = {name: _judge(device, factor, readings[name], name) for name, factor, _ in FACTORS}
    passed = rule.outcome(list(judged.values()))
    competence = standing(
        by, depot_id=machine.depot_id, skill=Skill.TEST, family=machine.kind.family,
        on=machine.depot.day_of(at),
    )  # fmt: skip
    if passed:
        refused = rule.instrument_refusal(
            calibrated_until=calibrated_until, on=machine.depot.day_of(at)
        )
        if refused:
            raise Refused(refused, field="calibrated_until")
        if is_learner(by, machine.depot_id):
            raise Refused("A learner cannot pass a test alone. A competent person enters it.")
        if competence.refusal:
            raise Refused(competence.refusal)
    record = seal(
        kind=Record.Kind.TEST, depot=machine.depot, machine=machine,
        data={
            **told,
            "standard": device.name,
            "passed": passed,
            "competence": competence.kept or None,
            "judged": [
                {
                    "reading": name,
                    "passed": each.passed,
                    "limit": each.limit,
                    "source": each.source,
                    "trust": each.trust,
                }
                for name, each in judged.items()
            ],
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    test = ElectricalTest.objects.create(
        machine=machine,
        at=at,
        profile=profile,
        instrument=instrument,
        passed=passed,
        record=record,
    )
    if not passed:
        raise_stop(
            machine=machine,
            record=record,
            at=at,
            kind=Stop.Kind.STOP,
            what="RCD test failed",
            told=" ".join(each.reason for each in judged.values() if not each.passed),
            item_key=ITEM_KEY,
            always=True,
        )
    return test


def _told(name: str, readings: Mapping[str, Trip]) -> dict[str, Canonical]:
    if name not in readings:
        raise Refused("Enter this reading.", field=name)
    trip = readings[name]
    return {
        "reading": name,
        "typed": trip.typed,
        "si": None if trip.seconds is None else units.decimal_string(trip.seconds),
        "unit": "s",
    }


def _judge(device: rule.RcdProfile, factor: float, trip: Trip, name: str) -> rule.Judgement:
    try:
        # To the microsecond: 0.3 s must be 300 ms, not a hair more.
        ms = None if trip.seconds is None else round(trip.seconds * 1000, 3)
        return rule.judge_trip(device, factor=factor, trip_ms=ms)
    except ValueError as wrong:
        raise Refused(f"{str(wrong)[:1].upper()}{str(wrong)[1:]}.", field=name) from wrong
