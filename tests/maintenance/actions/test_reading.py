"""Belt readings: averaged, worked out, sealed; a job where the belt is to be changed."""

import json
from datetime import timedelta
from math import sqrt
from typing import Any

import pytest

from maintenance.actions.reading import Questioned, record_tension, record_width
from maintenance.contents.drive import drive_now, given_now, last_width
from maintenance.contents.fitness import fitness_of
from maintenance.models import Job, TensionReading, WidthReading
from make import MONDAY, make_drive
from plant import units
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.contents.drive import FIELDS
from plant.models import Drive, Machine, Record, User
from plant.units import DEFLECTION, FORCE, FREQUENCY, LENGTH, WIDTH, Typed

FORCE_METHOD, FREQUENCY_METHOD = TensionReading.Method.FORCE, TensionReading.Method.FREQUENCY


def mm(text: str) -> Typed:
    return units.read(text, WIDTH)


@pytest.fixture
def drive(machine: Machine) -> Drive:
    """Belt example V24: 80 and 180 mm pulleys, a 690 mm A belt, grooves 8.7 mm deep, measured."""
    entries = {
        name: {"typed": "", "mark": "measured", "tool": ""}
        for name in FIELDS
        if name not in ("belt_new_width_m", "motor_power_w", "motor_speed_rpm")
    }
    return make_drive(machine, entries=entries)


def data(record: Record) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(record.content)["data"]
    return found


def test_a_worn_width_is_sealed_with_its_verdict_and_its_figures(
    drive: Drive, fitter: User
) -> None:
    reading = record_width(drive=drive, widths=[mm("10.4")], tool="calliper", at=MONDAY, by=fitter)

    assert (reading.verdict, reading.tool, reading.hours_tenths) == ("change now", "calliper", 1000)
    told = data(reading.record)
    assert told["readings"] == [{"typed": "10.4", "si": "0.0104", "unit": "m"}]
    assert (told["verdict"], told["sums"]) == ("change now", reading.sums_version)
    figures = {name: float(one["si"]) for name, one in told["results"].items()}
    # Drop of a wedge: 2.6 / (2 tan 17 deg) and 2.6 / (2 tan 19 deg); belt examples V14 and V24.
    assert figures["driver_drop_free"] == pytest.approx(4.2521e-3, abs=1e-7)
    assert figures["driven_drop"] == pytest.approx(3.7755e-3, abs=1e-7)
    assert figures["extra_centres_free"] == pytest.approx(13.35e-3, abs=0.01e-3)
    assert figures["extra_centres"] == pytest.approx(12.93e-3, abs=0.01e-3)
    assert told["started_from"]["driver"] == {"si": "0.08", "unit": "m", "mark": "measured"}


def test_change_now_raises_one_belt_job_and_does_not_stop_the_machine(
    drive: Drive, fitter: User
) -> None:
    before = fitness_of(drive.machine, MONDAY.date()).mark

    for hour in range(2):
        record_width(
            drive=drive, widths=[mm("10.4")], tool="calliper",
            at=MONDAY + timedelta(hours=hour), by=fitter,
        )  # fmt: skip

    job = Job.objects.get()
    assert (job.kind, job.title, job.state) == ("belt", "Change the belt: Drum drive", "reported")
    assert job.opened_by_record == WidthReading.objects.order_by("at")[0].record
    assert (job.due_on, job.is_safety) == (MONDAY.date(), False)
    assert "2.6 mm" in job.symptom
    assert fitness_of(drive.machine, MONDAY.date()).mark == before


def test_each_drive_of_a_machine_gets_its_own_belt_job(drive: Drive, fitter: User) -> None:
    other = make_drive(drive.machine, stage=2, name="Pump drive")

    for one in (drive, other):
        record_width(drive=one, widths=[mm("10.4")], tool="calliper", at=MONDAY, by=fitter)

    assert {job.title for job in Job.objects.all()} == {
        "Change the belt: Drum drive", "Change the belt: Pump drive",
    }  # fmt: skip


def test_a_sound_belt_raises_no_job(drive: Drive, fitter: User) -> None:
    reading = record_width(drive=drive, widths=[mm("12.8")], tool="calliper", at=MONDAY, by=fitter)

    assert reading.verdict != "change now"
    assert not Job.objects.exists()


def test_readings_are_averaged_and_the_tool_error_stays_whole(drive: Drive, fitter: User) -> None:
    reading = record_width(
        drive=drive, widths=[mm("12.0"), mm("12.2"), mm("1.21 cm")], tool="steel rule", at=MONDAY,
        by=fitter,
    )  # fmt: skip

    # JCGM 100: rule 0.25 and 0.5 mm rectangular; scatter 0.1 mm with Student 1.32 for 2 degrees.
    tool = sqrt((0.25**2 + 0.5**2) / 3)
    assert reading.width_m == pytest.approx(12.1e-3)
    assert reading.u_m * 1e3 == pytest.approx(sqrt(tool**2 + (1.32 * 0.1) ** 2 / 3), rel=1e-9)
    assert [one["si"] for one in data(reading.record)["readings"]] == ["0.012", "0.0122", "0.0121"]


def test_the_slot_as_it_stands_moves_the_motor_and_leaves_the_ends(
    drive: Drive, fitter: User
) -> None:
    record_width(
        drive=drive, widths=[mm("12.0")], tool="calliper", at=MONDAY, by=fitter,
        slot_out=units.read("9 mm", LENGTH),
    )  # fmt: skip

    drive.refresh_from_db()
    given = given_now(drive, at=MONDAY, width=None)
    assert (given.slot_out, drive.slot_out_m) == (0.009, 0.014)
    assert given.centres == pytest.approx(0.1362)
    assert given.slot_in == pytest.approx(0.011)


@pytest.mark.parametrize(
    ("widths", "tool", "field"),
    [
        ([], "calliper", "width_1"),
        (["0.5"], "calliper", "width_1"),
        (["12", "120"], "calliper", "width_2"),
        (["12"], "stop watch", "tool"),
        (["12"] * 7, "calliper", "width_1"),
    ],
)
def test_a_width_no_belt_has_is_refused(
    drive: Drive, fitter: User, widths: list[str], tool: str, field: str
) -> None:
    with pytest.raises(Refused) as refused:
        record_width(
            drive=drive, widths=[mm(one) for one in widths], tool=tool, at=MONDAY, by=fitter
        )

    assert refused.value.field == field
    assert not Record.objects.exists()


def test_the_same_sent_again_changes_nothing(drive: Drive, fitter: User) -> None:
    key = new_id()

    for _ in range(2):
        record_width(
            drive=drive, widths=[mm("10.4")], tool="calliper", at=MONDAY, by=fitter, record_id=key
        )

    assert WidthReading.objects.count() == Record.objects.count() == Job.objects.count() == 1


def test_a_reading_of_the_belt_before_says_nothing_of_the_new_one(
    drive: Drive, fitter: User
) -> None:
    record_width(drive=drive, widths=[mm("10.4")], tool="calliper", at=MONDAY, by=fitter)

    drive.belt_fitted_on = (MONDAY + timedelta(days=1)).date()
    drive.save()

    assert last_width(drive) is None
    now = drive_now(drive, at=MONDAY + timedelta(days=2))
    assert now.workout is not None
    assert now.workout.verdict != "change now"


def tension(drive: Drive, by: User, text: str, **more: Any) -> TensionReading:
    at = more.pop("at", MONDAY)
    return record_tension(
        drive=drive, method=FORCE_METHOD, figure=units.read(text, FORCE), tool="spring gauge",
        at=at, by=by, **more,
    )  # fmt: skip


def test_a_force_is_turned_into_tension_by_the_published_form(drive: Drive, fitter: User) -> None:
    reading = tension(drive, fitter, "8 N")

    told = data(reading.record)
    span = float(told["results"]["span"]["si"])
    # ANSI/RMA IP-20: tension = 16 F - Y l / L, with Y = 6.0 lbf for an A belt.
    assert reading.tension_n == pytest.approx(16 * 8 - 6.0 * 4.4482216 * span / 0.690, abs=0.01)
    assert told["reading"] == {"typed": "8 N", "si": "8", "unit": "N"}
    assert told["depth"] is None
    assert told["lies"] == reading.verdict == "within"
    assert reading.required_n is not None
    assert reading.required_n == pytest.approx(float(told["required"]["si"]), rel=1e-11)
    assert reading.required_n <= reading.tension_n


def test_the_depth_pressed_counts(drive: Drive, fitter: User) -> None:
    shallow = tension(drive, fitter, "8 N", depth=units.read("1.5 mm", DEFLECTION))
    usual = tension(drive, fitter, "8 N", at=MONDAY + timedelta(hours=1))

    assert shallow.tension_n > usual.tension_n
    assert data(shallow.record)["depth"]["si"] == "0.0015"


def test_pounds_and_kilograms_of_force_are_converted(drive: Drive, fitter: User) -> None:
    newtons = tension(drive, fitter, "8.896443 N")
    pounds = tension(drive, fitter, "2 lbf", at=MONDAY + timedelta(hours=1))

    assert pounds.tension_n == pytest.approx(newtons.tension_n, rel=1e-4)


@pytest.mark.parametrize(("text", "unit"), [("0.85", "kgf"), ("8.5 kgf", "N")])
def test_a_force_in_the_wrong_unit_is_questioned_once(
    drive: Drive, fitter: User, text: str, unit: str
) -> None:
    with pytest.raises(Questioned) as questioned:
        tension(drive, fitter, text)

    assert questioned.value.field == "force"
    assert f"Was it read in {unit}?" in str(questioned.value)
    assert not Record.objects.exists()


def test_a_questioned_force_is_kept_when_it_is_said_to_be_right(drive: Drive, fitter: User) -> None:
    reading = tension(drive, fitter, "8.5 kgf", confirmed=True)

    assert reading.verdict == "over"
    assert "Was it read in N?" in data(reading.record)["questioned"]


def test_twice_the_expected_frequency_is_questioned(drive: Drive, fitter: User) -> None:
    told: dict[str, Any] = {
        "drive": drive, "method": FREQUENCY_METHOD, "at": MONDAY, "by": fitter,
    }  # fmt: skip
    tool = "span frequency, share of the reading"
    wanted = record_tension(
        figure=units.read("135 Hz", FREQUENCY), tool=tool, confirmed=True, **told
    )
    span = float(data(wanted.record)["results"]["span"]["si"])
    assert wanted.required_n is not None
    # First mode of a string, f = sqrt(T / m) / (2 l), at 0.105 kg/m; the second mode is twice that.
    first = sqrt(wanted.required_n / 0.105) / (2 * span)

    with pytest.raises(Questioned, match="mode 2"):
        record_tension(figure=units.read(f"{2 * first:.1f} Hz", FREQUENCY), tool=tool, **told)


def test_a_tension_needs_the_motor_and_says_so(drive: Drive, fitter: User) -> None:
    drive.motor_power_w = None
    drive.save()

    with pytest.raises(Refused, match="Enter first: motor power"):
        tension(drive, fitter, "8 N")


def test_a_new_belt_is_judged_by_the_band_of_a_new_one(drive: Drive, fitter: User) -> None:
    drive.belt_fitted_on, drive.belt_fitted_tenths = MONDAY.date(), 1000
    drive.save()

    reading = tension(drive, fitter, "8 N")

    assert (reading.stage, reading.verdict) == ("new", "under")


def test_who_may_not_work_takes_no_reading(drive: Drive, operator: User) -> None:
    with pytest.raises(PermissionError):
        record_width(drive=drive, widths=[mm("12")], tool="calliper", at=MONDAY, by=operator)
    with pytest.raises(PermissionError):
        tension(drive, operator, "8 N")
