"""Meter figures: what counts, what is questioned, and what comes late."""

from datetime import timedelta

import pytest

from maintenance.actions.dial import change_meter
from maintenance.actions.meter import accept_meter, record_meter
from maintenance.models import MeterReading
from make import MONDAY
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Machine, Meter, User

DAY = timedelta(days=1)


def hours(machine: Machine) -> int | None:
    machine.refresh_from_db()
    return machine.hours_tenths


def test_the_newest_figure_is_the_machines_hours(machine: Machine, operator: User) -> None:
    reading = record_meter(
        machine=machine, dial_tenths=1045, typed="104.5", at=MONDAY + DAY, by=operator
    )

    assert (reading.total_tenths, reading.questioned) == (1045, "")
    assert hours(machine) == 1045
    assert '"si":"376200"' in reading.record.content  # 104.5 h of 3600 s


def test_the_offset_carries_the_total_on(machine: Machine, operator: User) -> None:
    Meter.objects.update(offset_tenths=980)

    record_meter(machine=machine, dial_tenths=40, typed="4.0", at=MONDAY + DAY, by=operator)

    assert hours(machine) == 1020


@pytest.mark.parametrize(
    ("tenths", "why"), [(407, "lower than the last reading"), (1400, "only 24.0 h have passed")]
)
def test_a_figure_that_does_not_fit_is_asked_about_and_then_kept_moving_nothing(
    machine: Machine, operator: User, tenths: int, why: str
) -> None:
    given = {"machine": machine, "dial_tenths": tenths, "typed": "x", "at": MONDAY + DAY}
    with pytest.raises(Refused, match=why):
        record_meter(**given, by=operator)
    assert MeterReading.objects.count() == 0

    reading = record_meter(**given, by=operator, confirmed=True)

    assert why in reading.questioned
    assert hours(machine) == 1000


def test_a_questioned_figure_is_no_neighbour_of_the_next(machine: Machine, operator: User) -> None:
    record_meter(
        machine=machine, dial_tenths=9000, typed="900", at=MONDAY + DAY, by=operator, confirmed=True
    )

    record_meter(machine=machine, dial_tenths=1050, typed="105", at=MONDAY + 2 * DAY, by=operator)

    assert hours(machine) == 1050


def test_a_late_figure_takes_its_place_and_moves_nothing(machine: Machine, operator: User) -> None:
    for day, tenths in ((4, 1080), (2, 1040)):
        record_meter(
            machine=machine, dial_tenths=tenths, typed="x", at=MONDAY + day * DAY, by=operator
        )

    assert list(MeterReading.objects.values_list("total_tenths", flat=True)) == [1080, 1040]
    assert hours(machine) == 1080


def test_a_late_figure_above_the_one_after_it_is_questioned(
    machine: Machine, operator: User
) -> None:
    record_meter(machine=machine, dial_tenths=1080, typed="x", at=MONDAY + 4 * DAY, by=operator)

    with pytest.raises(Refused, match="higher than the reading after it"):
        record_meter(machine=machine, dial_tenths=1090, typed="x", at=MONDAY + 2 * DAY, by=operator)


def test_the_first_figure_starts_a_meter(machine: Machine, operator: User) -> None:
    Meter.objects.all().delete()
    Machine.objects.update(hours_tenths=None, hours_at=None)

    record_meter(machine=machine, dial_tenths=12, typed="1.2", at=MONDAY, by=operator)

    assert hours(machine) == 12
    assert Meter.objects.get().offset_tenths == 0


def test_sent_twice_it_is_one_figure(machine: Machine, operator: User) -> None:
    record_id = new_id()

    for _ in range(2):
        record_meter(
            machine=machine,
            dial_tenths=1045,
            typed="104.5",
            at=MONDAY + DAY,
            by=operator,
            record_id=record_id,
        )

    assert MeterReading.objects.count() == 1


def test_below_nought_is_refused(machine: Machine, operator: User) -> None:
    Meter.objects.update(offset_tenths=-500)

    with pytest.raises(Refused, match="Enter 0 to 999"):
        record_meter(machine=machine, dial_tenths=40, typed="4", at=MONDAY + DAY, by=operator)


def test_a_new_dial_carries_the_hours_on(machine: Machine, fitter: User, operator: User) -> None:
    change_meter(
        machine=machine,
        dial_tenths=0,
        typed="0",
        blind_tenths=25,
        at=MONDAY + DAY,
        by=fitter,
        reason="old dial broken",
    )
    assert hours(machine) == 1025

    record_meter(machine=machine, dial_tenths=30, typed="3", at=MONDAY + 2 * DAY, by=operator)

    assert hours(machine) == 1055
    assert Meter.objects.filter(removed_at__isnull=True).count() == 1


def test_a_late_figure_is_of_the_dial_that_was_on_then(
    machine: Machine, fitter: User, operator: User
) -> None:
    change_meter(
        machine=machine, dial_tenths=0, typed="0", at=MONDAY + 5 * DAY, by=fitter, reason="broken"
    )

    late = record_meter(
        machine=machine, dial_tenths=1000, typed="100", at=MONDAY + 2 * DAY, by=operator
    )

    assert (late.total_tenths, late.questioned) == (1000, "")
    assert hours(machine) == 1000


def test_the_dial_is_changed_by_who_works_on_it(machine: Machine, operator: User) -> None:
    with pytest.raises(PermissionError):
        change_meter(
            machine=machine, dial_tenths=0, typed="0", at=MONDAY, by=operator, reason="broken"
        )


def test_a_foreman_lets_a_questioned_figure_count(
    machine: Machine, operator: User, foreman: User, fitter: User
) -> None:
    reading = record_meter(
        machine=machine, dial_tenths=1400, typed="140", at=MONDAY + DAY, by=operator, confirmed=True
    )
    with pytest.raises(PermissionError):
        accept_meter(reading=reading, reason="two shifts", at=MONDAY + DAY, by=fitter)
    assert hours(machine) == 1000

    accept_meter(reading=reading, reason="the last was read wrong", at=MONDAY + DAY, by=foreman)

    reading.refresh_from_db()
    assert reading.questioned == ""
    assert hours(machine) == 1400


def test_a_figure_below_the_last_never_counts(
    machine: Machine, operator: User, foreman: User
) -> None:
    reading = record_meter(
        machine=machine, dial_tenths=407, typed="40.7", at=MONDAY + DAY, by=operator, confirmed=True
    )

    with pytest.raises(Refused, match="Was the meter changed"):
        accept_meter(reading=reading, reason="looked again", at=MONDAY + DAY, by=foreman)
    assert hours(machine) == 1000
