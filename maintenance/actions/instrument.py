"""Test instruments: added, calibrated, withdrawn; and what calibrations say of older tests."""

import uuid
from collections.abc import Collection
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.due import rework
from maintenance.actions.signing import sealed_before, words
from maintenance.models import Calibration, DueLine, ElectricalTest, Instrument
from maintenance.rules import instrument as rule
from maintenance.rules.words import day_text
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical

# Longer than any certificate runs: a slip of the keyboard (common practice, no source).
LONGEST_VALID = timedelta(days=3 * 366)


@transaction.atomic
def add_instrument(
    *,
    depot: Depot,
    name: str,
    serial: str,
    reads: Collection[str],
    at: datetime,
    by: User,
    description: str = "",
    record_id: uuid.UUID | None = None,
) -> Instrument:
    """Enters an instrument of the depot; until its first calibration it makes no pass.

    Args:
        reads: units that it shows, of Instrument.Reads.

    Raises:
        Refused: no name or serial, nothing that it reads, or the depot has it in use already.
    """
    role = role_for(by, Right.KEEP_INSTRUMENTS, depot.pk)
    name = words(name, field="name", what="name", low=1, high=40)
    serial = words(serial, field="serial", what=_("serial number"), low=1, high=60)
    description = words(description, field="description", what="description", high=120)
    known = [str(each) for each in Instrument.Reads.values if each in reads]
    if not known or len(known) != len(set(reads)):
        raise Refused(_("Choose what it reads."), field="reads")
    told: dict[str, Canonical] = {
        "move": "added",
        "instrument": _("{name}, serial {serial}").format(name=name, serial=serial),
        "reads": list(known),
        "description": description,
    }
    if before := _before(record_id, depot=depot, by=by, told=told, texts={}):
        return before.instrument_row
    Depot.objects.select_for_update().only("pk").get(pk=depot.pk)
    if Instrument.objects.in_use().filter(depot=depot, serial=serial).exists():
        raise Refused(_("This depot has an instrument of that serial number."), field="serial")
    record = seal(
        kind=Record.Kind.INSTRUMENT, depot=depot, data=told, happened_at=at, received_at=at,
        by=by, role=role, record_id=record_id,
    )  # fmt: skip
    return Instrument.objects.create(
        depot=depot,
        name=name,
        serial=serial,
        reads=known,
        description=description,
        record=record,
    )


@transaction.atomic
def calibrate(
    *,
    instrument: Instrument,
    done_on: date,
    found_good: bool,
    valid_until: date | None,
    certificate: str,
    at: datetime,
    by: User,
    note: str = "",
    record_id: uuid.UUID | None = None,
) -> Calibration:
    """Keeps a calibration. Found wrong, it throws doubt on every test since the last good one.

    Args:
        found_good: as it came in, before anything was set right.
        valid_until: its last day; None where it was found wrong and not put right.

    Raises:
        Refused: withdrawn, a day to come, days not in order, or no certificate.
    """
    role = role_for(by, Right.KEEP_INSTRUMENTS, instrument.depot_id)
    instrument = _locked_with_its_machines(instrument)
    depot = instrument.depot
    certificate = words(certificate, field="certificate", what=_("certificate number"), high=60)
    note = words(note, field="note", what="note", high=400)
    told: dict[str, Canonical] = {
        "move": "calibrated",
        "instrument": str(instrument),
        "done_on": done_on.isoformat(),
        "found": "good" if found_good else "wrong",
        "valid_until": valid_until.isoformat() if valid_until else None,
        "certificate": certificate,
    }
    texts = {"note": note}
    if before := _before(record_id, depot=depot, by=by, told=told, texts=texts):
        return before.calibration_row
    _refuse_days(instrument, done_on=done_on, valid_until=valid_until, on=depot.day_of(at))
    if found_good and valid_until is None:
        raise Refused(_("Give the last day that it is valid."), field="valid_until")
    if not certificate:
        raise Refused(_("Give the number of the certificate."), field="certificate")
    record = seal(
        kind=Record.Kind.INSTRUMENT, depot=depot, data=told, happened_at=at, received_at=at,
        by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    calibration = Calibration.objects.create(
        instrument=instrument,
        done_on=done_on,
        found_good=found_good,
        valid_until=valid_until,
        certificate=certificate,
        record=record,
    )
    for test in work_out_doubts(instrument):
        _let_plan_follow(test, at=at)
    return calibration


@transaction.atomic
def strike_calibration(
    *,
    calibration: Calibration,
    reason: str,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Calibration:
    """Strikes out a calibration that was entered by mistake, and works every test out again.

    A doubt that it threw goes; a pass that only it allowed comes into doubt, until the right one
    is entered. Both records stand.

    Raises:
        Refused: struck out already, or no reason.
    """
    instrument = calibration.instrument
    role = role_for(by, Right.KEEP_INSTRUMENTS, instrument.depot_id)
    instrument = _locked_with_its_machines(instrument)
    depot = instrument.depot
    calibration = Calibration.objects.select_related("record").get(pk=calibration.pk)
    reason = words(reason, field="reason", what="reason", low=10, high=500)
    told: dict[str, Canonical] = {
        "struck_out": "calibration",
        "instrument": str(instrument),
        "done_on": calibration.done_on.isoformat(),
        "certificate": calibration.certificate,
    }
    texts = {"reason": reason}
    if before := _before(
        record_id, depot=depot, by=by, told=told, texts=texts, kind=Record.Kind.CORRECTION
    ):
        return before.struck_calibration
    if calibration.struck_by_id is not None:
        raise Refused(_("It was struck out already. Open the page afresh."))
    calibration.struck_by = seal(
        kind=Record.Kind.CORRECTION, depot=depot, data=told, happened_at=at, received_at=at,
        by=by, role=role, texts=texts, record_id=record_id, corrects=calibration.record,
    )  # fmt: skip
    calibration.save(update_fields=["struck_by"])
    for test in work_out_doubts(instrument):
        _let_plan_follow(test, at=at)
    return calibration


@transaction.atomic
def withdraw_instrument(
    *,
    instrument: Instrument,
    reason: str,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Instrument:
    """Takes an instrument out of use for good; tests made with it go on standing as they are.

    Raises:
        Refused: withdrawn already, or no reason.
    """
    role = role_for(by, Right.KEEP_INSTRUMENTS, instrument.depot_id)
    instrument = locked_instrument(instrument)
    reason = words(reason, field="reason", what="reason", low=1)
    told: dict[str, Canonical] = {"move": "withdrawn", "instrument": str(instrument)}
    texts = {"reason": reason}
    if _before(record_id, depot=instrument.depot, by=by, told=told, texts=texts):
        return instrument
    if instrument.withdrawn_by_id is not None:
        raise Refused(_("It was withdrawn already. Nothing was changed."))
    instrument.withdrawn_by = seal(
        kind=Record.Kind.INSTRUMENT, depot=instrument.depot, data=told, happened_at=at,
        received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    instrument.save(update_fields=["withdrawn_by"])
    return instrument


def locked_instrument(instrument: Instrument) -> Instrument:
    """The instrument read afresh, its row locked; taken after the machine's."""
    Instrument.objects.select_for_update().only("pk").get(pk=instrument.pk)
    return Instrument.objects.select_related("depot").get(pk=instrument.pk)


def _locked_with_its_machines(instrument: Instrument) -> Instrument:
    """Machines first, as everywhere, so that two actions never wait for each other."""
    tested = Machine.objects.filter(electrical_tests__made_with=instrument)
    list(Machine.objects.select_for_update().filter(pk__in=tested).order_by("pk").only("pk"))
    return locked_instrument(instrument)


def work_out_doubts(instrument: Instrument) -> list[ElectricalTest]:
    """Marks each test that was made with it by the calibration that throws doubt on it, or none.

    Worked out afresh from all its calibrations, in whatever order they were told. Returns the
    tests that came into doubt, or out of it.
    """
    known, changed = instrument.known(), []
    tests = ElectricalTest.objects.filter(made_with=instrument).select_related("record__depot")
    for test in tests:
        # The day where the test was made; its machine may stand at another depot by now.
        day = test.record.depot.day_of(test.at)
        found = (rule.against_pass if test.passed else rule.doubted_by)(known, day=day)
        doubted_by = found.id if found else None
        if test.doubted_by_id == doubted_by:
            continue
        if (test.doubted_by_id is None) != (doubted_by is None):
            changed.append(test)
        test.doubted_by_id = doubted_by
        test.save(update_fields=["doubted_by"])
    return changed


def _let_plan_follow(test: ElectricalTest, *, at: datetime) -> None:
    """What a test satisfied counts from the pass before it, or from it again."""
    lines = DueLine.objects.filter(completions__test=test)
    if not lines.exists():
        return
    # A cycle may have one job only; the one in which the test was made has had its job.
    step = 1 if test.doubted_by_id is not None else -1
    for line in lines:
        line.passed_over = max(0, line.passed_over + step)
        line.save(update_fields=["passed_over"])
    rework(Machine.objects.select_related("depot", "kind").get(pk=test.machine_id), at=at)


def _refuse_days(
    instrument: Instrument, *, done_on: date, valid_until: date | None, on: date
) -> None:
    if instrument.withdrawn_by_id is not None:
        raise Refused(_("It was withdrawn. Nothing was changed."))
    if done_on > on:
        raise Refused(
            _("The day must be {on} or earlier.").format(on=day_text(on)), field="done_on"
        )
    if valid_until is not None and valid_until < done_on:
        raise Refused(_("It cannot end before it was done."), field="valid_until")
    if valid_until is not None and valid_until - done_on > LONGEST_VALID:
        raise Refused(_("No calibration runs longer than three years here."), field="valid_until")


def _before(
    record_id: uuid.UUID | None,
    *,
    depot: Depot,
    by: User,
    told: dict[str, Canonical],
    texts: dict[str, str],
    kind: Record.Kind = Record.Kind.INSTRUMENT,
) -> Record | None:
    before = sealed_before(
        record_id=record_id, kind=kind, machine=None, by=by,
        told=told, texts=texts,
    )  # fmt: skip
    if before is not None and before.depot_id != depot.pk:
        raise Refused(_("Another entry was saved under this number. Open the page afresh."))
    return before
