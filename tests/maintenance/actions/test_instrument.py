"""Test instruments: added, calibrated, withdrawn, and what one found wrong does to its tests."""

import json
from datetime import date, timedelta
from typing import Any

import pytest

from bench import CLASS_I, class_i, ohm, record
from maintenance.actions.instrument import (
    add_instrument,
    calibrate,
    strike_calibration,
    withdraw_instrument,
)
from maintenance.actions.plan import give_plans, raise_due_work
from maintenance.actions.release import LOOKS, release_machine
from maintenance.contents.out_in import can_go, nearest_that_can
from maintenance.contents.record import summary
from maintenance.contents.test import doubt
from maintenance.models import (
    Calibration,
    DueLine,
    ElectricalTest,
    Instrument,
    Job,
    RuleSheet,
    Stop,
)
from make import MONDAY, make_instrument, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, MachineKind, Record, Role, User

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")
LATER = MONDAY + timedelta(days=30)


@pytest.fixture
def machine(depot: Depot, rule_sheet: RuleSheet) -> Machine:
    kind = MachineKind.objects.get(key="mixer_electric")
    return make_machine(depot, "MX-203", kind=kind, supply="e110", protection="I")


@pytest.fixture
def instrument(depot: Depot, manager: User) -> Instrument:
    return make_instrument(depot, manager)


def found_wrong(instrument: Instrument, by: User, **more: Any) -> Calibration:
    given: dict[str, Any] = {
        "done_on": LATER.date(),
        "found_good": False,
        "valid_until": None,
        "certificate": "C-2",
        "at": LATER,
    }
    return calibrate(instrument=instrument, by=by, **given | more)


def test_each_change_is_a_sealed_record_that_reads_well(
    depot: Depot, manager: User, instrument: Instrument
) -> None:
    found_wrong(instrument, manager)
    withdraw_instrument(instrument=instrument, reason="beyond repair", at=LATER, by=manager)

    records = Record.objects.filter(kind=Record.Kind.INSTRUMENT).order_by("seq")
    name = f"Bench tester, serial {instrument.serial}"
    assert [summary(each) for each in records] == [
        f"Test instrument: {name}: added",
        f"Test instrument: {name}: calibrated, found good, valid until 2026-12-31",
        f"Test instrument: {name}: calibrated, found wrong",
        f"Test instrument: {name}: withdrawn",
    ]
    assert all(each.depot == depot and each.machine is None for each in records)


def test_found_wrong_every_test_since_the_last_good_calibration_comes_into_doubt(
    machine: Machine, fitter: User, manager: User, instrument: Instrument
) -> None:
    passed = class_i(machine, fitter)
    sealed = passed.record.content

    wrong = found_wrong(instrument, manager)

    passed.refresh_from_db()
    assert passed.doubted_by == wrong
    assert passed.result == "passed, in doubt"
    assert doubt(passed) == (
        "Test again: Machine of class I, 110 V centre-tapped. It passed on 2 Mar 2026 with "
        "Bench tester, which was found wrong on 1 Apr 2026."
    )
    assert Record.objects.get(pk=passed.record_id).content == sealed


def test_a_good_calibration_and_another_instrument_throw_no_doubt(
    machine: Machine, fitter: User, manager: User, depot: Depot, instrument: Instrument
) -> None:
    test = class_i(machine, fitter)
    other = make_instrument(depot, manager)

    found_wrong(other, manager)
    found_wrong(
        instrument, manager, found_good=True, valid_until=date(2027, 3, 1), done_on=LATER.date()
    )

    test.refresh_from_db()
    assert test.doubted_by is None


def test_a_machine_whose_pass_is_in_doubt_cannot_go_until_it_passes_again(
    machine: Machine, fitter: User, manager: User, depot: Depot, instrument: Instrument
) -> None:
    class_i(machine, fitter)
    asking = make_machine(depot, kind=machine.kind, supply="e110")
    assert can_go(machine, LATER.date()).yes
    assert nearest_that_can(asking, LATER.date()) == (machine,)

    found_wrong(instrument, manager)

    answer = can_go(machine, LATER.date())
    assert not answer.yes
    assert [reason for reason in answer.reasons if reason.startswith("Test again")]
    assert nearest_that_can(asking, LATER.date()) == ()

    class_i(machine, fitter, instrument=make_instrument(depot, manager), at=LATER)

    assert can_go(machine, LATER.date()).yes


def test_the_plan_counts_from_the_pass_before_the_one_in_doubt(
    machine: Machine, fitter: User, manager: User, depot: Depot, instrument: Instrument
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    good = make_instrument(depot, manager)
    class_i(machine, fitter, instrument=good, at=MONDAY - timedelta(days=20))
    class_i(machine, fitter, instrument=instrument)
    line = DueLine.objects.get(machine=machine, line__key="test_110")
    assert line.last_done_on == MONDAY.date()

    found_wrong(instrument, manager)

    line.refresh_from_db()
    assert line.last_done_on == date(2026, 2, 10)
    assert line.due_on == date(2026, 5, 10)


def test_without_an_earlier_pass_the_line_stands_as_if_never_done(
    machine: Machine, fitter: User, manager: User, instrument: Instrument
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    class_i(machine, fitter)

    found_wrong(instrument, manager)

    line = DueLine.objects.get(machine=machine, line__key="test_110")
    assert line.last_done_on is None
    assert line.due_on is not None
    assert line.due_on < LATER.date()


def test_the_work_is_raised_again_for_a_pass_in_doubt(
    machine: Machine, fitter: User, manager: User, depot: Depot, instrument: Instrument
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    raise_due_work(depot=depot, at=MONDAY - timedelta(days=1))
    line = DueLine.objects.get(machine=machine, line__key="test_110")
    class_i(machine, fitter)
    assert not Job.objects.open().filter(due_line=line).exists()

    found_wrong(instrument, manager)
    raise_due_work(depot=depot, at=LATER)

    assert Job.objects.open().filter(due_line=line).count() == 1


def test_a_newer_good_pass_goes_on_counting(
    machine: Machine, fitter: User, manager: User, depot: Depot, instrument: Instrument
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    class_i(machine, fitter, instrument=instrument)
    after = MONDAY + timedelta(days=5)
    class_i(machine, fitter, instrument=make_instrument(depot, manager), at=after)

    found_wrong(instrument, manager)

    line = DueLine.objects.get(machine=machine, line__key="test_110")
    assert line.last_done_on == after.date()
    against = can_go(machine, MONDAY.date() + timedelta(days=6)).reasons
    assert not [reason for reason in against if reason.startswith("Test again")]


def test_a_failure_stays_a_failure_and_a_pass_in_doubt_frees_nothing(
    machine: Machine, fitter: User, foreman: User, manager: User, instrument: Instrument
) -> None:
    failed = class_i(machine, fitter, readings=CLASS_I | {"earth": ohm("2")})
    class_i(machine, fitter, at=MONDAY + timedelta(hours=1))
    Job.objects.update(state="called off")

    found_wrong(instrument, manager)

    failed.refresh_from_db()
    assert failed.result == "failed"
    with pytest.raises(Refused, match="retest"):
        release_machine(
            machine=machine, frees=Stop.objects.all(), looks={key: "right" for key, _ in LOOKS},
            at=LATER, by=foreman,
        )  # fmt: skip


def test_a_test_entered_later_for_a_doubtful_time_is_in_doubt_and_moves_no_line(
    machine: Machine, fitter: User, manager: User, instrument: Instrument
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    found_wrong(instrument, manager, valid_until=date(2027, 1, 1))

    late = class_i(machine, fitter, at=MONDAY)

    assert late.doubted_by is not None
    assert DueLine.objects.get(machine=machine, line__key="test_110").last_done_on is None


def test_a_calibration_told_late_takes_the_doubt_away(
    machine: Machine, fitter: User, manager: User, instrument: Instrument
) -> None:
    test = class_i(machine, fitter)
    found_wrong(instrument, manager)

    found_wrong(
        instrument, manager, found_good=True, valid_until=date(2027, 3, 1), certificate="C-1b",
        done_on=MONDAY.date() + timedelta(days=9),
    )  # fmt: skip

    test.refresh_from_db()
    assert test.doubted_by is None


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"done_on": LATER.date() + timedelta(days=1)}, "done_on"),
        ({"valid_until": LATER.date() - timedelta(days=1)}, "valid_until"),
        ({"valid_until": LATER.date() + timedelta(days=4000)}, "valid_until"),
        ({"found_good": True}, "valid_until"),
        ({"certificate": ""}, "certificate"),
        ({"certificate": "x" * 61}, "certificate"),
        ({"note": "a\u202eb"}, "note"),
    ],
)
def test_a_calibration_that_cannot_be_is_refused_at_its_field(
    manager: User, instrument: Instrument, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        found_wrong(instrument, manager, **change)

    assert refused.value.field == field
    assert Calibration.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": ""}, "name"), ({"serial": " "}, "serial"), ({"reads": []}, "reads"),
        ({"reads": ["kg"]}, "reads"), ({"name": "n" * 41}, "name"),
        ({"serial": "S-1"}, "serial"),
    ],
)  # fmt: skip
def test_an_instrument_that_cannot_be_is_refused_at_its_field(
    depot: Depot, manager: User, change: dict[str, Any], field: str
) -> None:
    given: dict[str, Any] = {"name": "One", "serial": "S-1", "reads": ["ms"], "at": MONDAY}
    add_instrument(depot=depot, by=manager, **given)

    with pytest.raises(Refused) as refused:
        add_instrument(depot=depot, by=manager, **given | {"serial": "S-2"} | change)

    assert refused.value.field == field


def test_sent_twice_each_change_is_made_once(depot: Depot, manager: User) -> None:
    ids = [new_id() for _ in range(3)]
    for _ in range(2):
        instrument = add_instrument(
            depot=depot, name="One", serial="S-1", reads=["ms"], at=MONDAY, by=manager,
            record_id=ids[0],
        )  # fmt: skip
        found_wrong(instrument, manager, record_id=ids[1])
    for _ in range(2):
        withdraw_instrument(
            instrument=instrument, reason="lost", at=LATER, by=manager, record_id=ids[2]
        )

    assert Record.objects.filter(kind=Record.Kind.INSTRUMENT).count() == 3
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw_instrument(instrument=instrument, reason="lost", at=LATER, by=manager)
    with pytest.raises(Refused, match="It was withdrawn"):
        found_wrong(instrument, manager)


def test_withdrawn_its_serial_may_be_entered_again(depot: Depot, manager: User) -> None:
    given: dict[str, Any] = {"name": "One", "serial": "S-1", "reads": ["ms"], "at": MONDAY}
    first = add_instrument(depot=depot, by=manager, **given)
    withdraw_instrument(instrument=first, reason="sold", at=MONDAY, by=manager)

    assert add_instrument(depot=depot, by=manager, **given).pk != first.pk


def test_only_who_keeps_the_instruments_changes_them(
    depot: Depot, fitter: User, instrument: Instrument, other_depot: Depot
) -> None:
    stranger = make_user("Stranger", (other_depot, Role.MANAGER))
    for person in (fitter, stranger):
        with pytest.raises(PermissionError):
            found_wrong(instrument, person)
        with pytest.raises(PermissionError):
            withdraw_instrument(instrument=instrument, reason="x", at=LATER, by=person)
        with pytest.raises(PermissionError):
            add_instrument(
                depot=depot, name="One", serial="S-9", reads=["ms"], at=MONDAY, by=person
            )


def test_what_a_record_keeps_of_a_calibration(manager: User, instrument: Instrument) -> None:
    found = found_wrong(instrument, manager, note="read 8 % low at 1 Mohm")

    data = json.loads(found.record.content)["data"]
    assert data == {
        "move": "calibrated", "instrument": str(instrument), "done_on": "2026-04-01",
        "found": "wrong", "valid_until": None, "certificate": "C-2",
    }  # fmt: skip
    assert found.record.texts.get(name="note").text == "read 8 % low at 1 Mohm"


def test_old_tests_with_a_typed_instrument_stay_as_they_are(
    machine: Machine, fitter: User, manager: User, instrument: Instrument
) -> None:
    old = record(machine, fitter)
    ElectricalTest.objects.filter(pk=old.pk).update(made_with=None, instrument="Tester 4")

    found_wrong(instrument, manager)

    old.refresh_from_db()
    assert (old.doubted_by, old.instrument) == (None, "Tester 4")


def test_a_doubt_thrown_by_a_slip_goes_when_the_slip_is_struck_out(
    machine: Machine, fitter: User, manager: User, instrument: Instrument
) -> None:
    give_plans([machine], at=MONDAY - timedelta(days=120))
    passed = class_i(machine, fitter)
    slip = found_wrong(instrument, manager)

    strike_calibration(calibration=slip, reason="It was another tester", at=LATER, by=manager)

    passed.refresh_from_db()
    assert passed.result == "passed"
    assert DueLine.objects.get(machine=machine, line__key="test_110").last_done_on == MONDAY.date()
    correction = Record.objects.get(kind=Record.Kind.CORRECTION)
    assert correction.corrects == slip.record
    assert summary(correction) == (
        f"Correction: {instrument}: calibration of 1 Apr 2026 struck out: It was another tester"
    )


def test_a_pass_that_only_the_slip_allowed_is_in_doubt_until_the_right_one_is_entered(
    machine: Machine, fitter: User, manager: User, depot: Depot
) -> None:
    tester = make_instrument(
        depot, manager, calibrated=(date(2026, 1, 1), date(2026, 12, 31)), name="Box tester"
    )
    passed = class_i(machine, fitter, instrument=tester)
    failed = class_i(
        machine, fitter, instrument=tester, readings=CLASS_I | {"earth": ohm("2")},
        at=MONDAY + timedelta(hours=1),
    )  # fmt: skip
    slip = tester.calibrations.get()

    strike_calibration(calibration=slip, reason="Day and year mixed up", at=LATER, by=manager)

    passed.refresh_from_db()
    failed.refresh_from_db()
    assert doubt(passed).endswith(
        "It passed on 2 Mar 2026 with Box tester, whose calibration of 1 Jan 2026 was entered by "
        "mistake and struck out."
    )
    assert failed.doubted_by is None
    assert "no calibration yet" in tester.refusal(LATER.date())

    right = {"found_good": True, "done_on": date(2026, 2, 1), "valid_until": date(2027, 1, 31)}
    found_wrong(tester, manager, **right)

    passed.refresh_from_db()
    assert passed.result == "passed"


def test_a_calibration_is_struck_out_once_by_who_keeps_the_instruments(
    fitter: User, manager: User, instrument: Instrument
) -> None:
    slip = found_wrong(instrument, manager)
    given: dict[str, Any] = {"calibration": slip, "reason": "It was another tester", "at": LATER}
    with pytest.raises(PermissionError):
        strike_calibration(by=fitter, **given)

    number = new_id()
    for _ in range(2):  # sent twice, it is one record
        strike_calibration(by=manager, record_id=number, **given)

    assert Record.objects.filter(kind=Record.Kind.CORRECTION).count() == 1
    with pytest.raises(Refused, match="struck out already"):
        strike_calibration(by=manager, **given)
