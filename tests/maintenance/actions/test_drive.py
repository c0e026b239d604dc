"""A drive entered: figures turned to the datum line, marks kept, contradictions refused."""

import json
from datetime import timedelta

import pytest

from maintenance.actions.drive import RIM, BeltUnclear, DriveEntry, Figure, save_drive
from make import MONDAY, make_depot, make_drive, make_machine
from plant import units
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.contents.drive import fitted_since, given_of
from plant.models import Drive, Machine, Record, User
from plant.units import ANGLE, LENGTH, POWER, SPEED, WIDTH, Measure


def figure(text: str, measure: Measure = LENGTH, mark: str = "measured", **more: str) -> Figure:
    return Figure(typed=units.read(text, measure), mark=mark, **more)


def entry(**other: object) -> DriveEntry:
    """The drive of belt example V14: 80 and 180 mm pulleys, a 690 mm A belt."""
    figures = {
        "driver_m": figure("80 mm", mark="plate"),
        "driven_m": figure("180 mm"),
        "driver_angle_rad": figure("34", ANGLE),
        "driven_angle_rad": figure("38", ANGLE),
        "centres_m": figure("132 mm"),
        "slot_in_m": figure("6"),
        "slot_out_m": figure("20"),
        "motor_power_w": figure("0.55 kW", POWER, "plate"),
        "motor_speed_rpm": figure("1400 rpm", SPEED, "plate"),
    } | other.pop("figures", {})  # type: ignore[operator]
    given = {"name": "Drum drive", "belt_mark": "A26", "load": "heavy"} | other
    return DriveEntry(figures={k: v for k, v in figures.items() if v}, **given)  # type: ignore[arg-type]


def test_figures_marks_and_the_belt_read_off_its_mark_are_kept_and_sealed(
    machine: Machine, fitter: User
) -> None:
    drive = save_drive(machine=machine, entry=entry(), at=MONDAY, by=fitter)

    drive.refresh_from_db()
    assert (drive.driver_m, drive.driven_m, drive.motor_speed_rpm) == (0.08, 0.18, 1400.0)
    assert (drive.section, drive.length_system, drive.stage) == ("A", "ISO/DIN", 1)
    # ISO/DIN, section A: datum = inside + 30 mm (DIN 2215); 26 in is 660.4 mm inside.
    assert drive.belt_datum_m == pytest.approx(0.6904)
    assert drive.entries["driver_m"] == {
        "typed": "80 mm", "mark": "plate", "tool": "", "told": MONDAY.isoformat(),
    }  # fmt: skip
    assert drive.typed("slot_out_m") == "20 mm"
    assert given_of(drive).marks["driver_depth"] == "guess"
    record = Record.objects.get(kind=Record.Kind.DRIVE)
    told = json.loads(record.content)["data"]
    assert told["figures"]["driver_m"] == {
        "typed": "80 mm", "si": "0.08", "unit": "m", "mark": "plate", "tool": "", "from": "datum",
    }  # fmt: skip
    assert told["taken_as"]["motor_speed_rpm"] == {"si": "1400", "unit": "rpm"}
    assert told["belt"]["section"] == "A"
    assert (record.by, record.role) == (fitter, "fitter")


def test_a_diameter_across_the_rim_is_turned_to_the_datum_line(
    machine: Machine, fitter: User
) -> None:
    across = entry(figures={"driver_m": figure("85.5 mm", how=RIM)})

    drive = save_drive(machine=machine, entry=across, at=MONDAY, by=fitter)

    # ISO 4183, section A: 2.75 mm above the datum line, so 85.5 - 2 x 2.75 = 80.0 mm.
    assert drive.driver_m == pytest.approx(0.080)
    assert "less 2 × 2.75 mm" in drive.entries["driver_m"]["how"]
    assert drive.typed("driver_m") == "85.5 mm"


def test_a_groove_depth_from_the_rim_is_turned_to_the_datum_line(
    machine: Machine, fitter: User
) -> None:
    deep = entry(figures={"driver_depth_m": figure("14 mm", how=RIM)}, groove_system="DIN 2211")

    drive = save_drive(machine=machine, entry=deep, at=MONDAY, by=fitter)

    # DIN 2211, section A: 2.8 mm above the datum line, so 14 - 2.8 = 11.2 mm.
    assert drive.driver_depth_m == pytest.approx(0.0112)
    assert given_of(drive).groove_system == "DIN 2211"


def test_a_mark_that_means_two_belts_is_asked_about_with_what_settles_it(
    machine: Machine, fitter: User
) -> None:
    with pytest.raises(BeltUnclear) as unclear:
        save_drive(machine=machine, entry=entry(belt_mark="13A690"), at=MONDAY, by=fitter)

    assert unclear.value.field == "belt_choice"
    lengths = [round(reading.datum or 0, 6) for reading in unclear.value.readings]
    assert lengths == [0.69, 0.67]
    assert "tape round the outside" in str(unclear.value)
    assert not Drive.objects.exists()
    assert not Record.objects.exists()


def test_choosing_a_reading_or_giving_the_length_settles_the_mark(
    machine: Machine, fitter: User
) -> None:
    chosen = save_drive(
        machine=machine, at=MONDAY, by=fitter,
        entry=entry(belt_mark="13A690", belt_choice="A 690.0 ISO/DIN datum"),
    )  # fmt: skip
    given = save_drive(
        machine=machine, at=MONDAY, by=fitter,
        entry=entry(belt_mark="13A690", figures={"belt_datum_m": figure("690 mm")}),
    )  # fmt: skip

    assert chosen.belt_datum_m == pytest.approx(0.69)
    assert given.belt_datum_m == pytest.approx(0.69)
    assert given.stage == 2


@pytest.mark.parametrize(
    ("other", "field", "words"),
    [
        ({"figures": {"centres_m": figure("90 mm")}}, "centres_m", "overlap"),
        ({"figures": {"driven_m": figure("2 m"), "centres_m": None}}, "belt_mark", "reach"),
        ({"figures": {"driver_m": figure("4 mm")}}, "driver_m", "10.0 mm to 3000.0 mm"),
        ({"belt_mark": "HELLO"}, "belt_mark", "cannot be read"),
        ({"belt_mark": "A26", "section": "B"}, "belt_mark", "not of one belt"),
        ({"gears": ((12, 3),)}, "gear_1_out", "5 to 500 teeth"),
        ({"figures": {"driver_depth_m": figure("2 mm", how=RIM)}}, "driver_depth_m", "datum line"),
        ({"fitted_on": (MONDAY + timedelta(days=2)).date()}, "fitted_on", "still to come"),
        ({"belts": 0}, "belts", "1 to 50"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_nothing_is_kept(
    machine: Machine, fitter: User, other: dict[str, object], field: str, words: str
) -> None:
    with pytest.raises(Refused) as refused:
        save_drive(machine=machine, entry=entry(**other), at=MONDAY, by=fitter)

    assert refused.value.field == field
    assert words in str(refused.value)
    assert not Drive.objects.exists()
    assert not Record.objects.exists()


def test_an_unreadable_mark_is_kept_as_words_when_section_and_length_are_given(
    machine: Machine, fitter: User
) -> None:
    by_hand = entry(
        belt_mark="HELLO", section="a", figures={"belt_datum_m": figure("690", mark="guess")}
    )

    drive = save_drive(machine=machine, entry=by_hand, at=MONDAY, by=fitter)

    assert (drive.belt_mark, drive.section, drive.belt_datum_m) == ("HELLO", "A", 0.69)
    assert drive.mark_of("belt_datum_m") == "guess"


def test_changing_a_drive_seals_anew_and_forgets_what_is_left_out(
    machine: Machine, fitter: User
) -> None:
    drive = save_drive(machine=machine, entry=entry(gears=((12, 120),)), at=MONDAY, by=fitter)

    save_drive(
        machine=machine, drive=drive, at=MONDAY + timedelta(hours=1), by=fitter,
        entry=entry(figures={"slot_out_m": None}, gears=((12, 96), (15, 30))),
    )  # fmt: skip

    drive.refresh_from_db()
    assert drive.slot_out_m is None
    assert drive.mark_of("slot_out_m") == "guess"
    assert given_of(drive).gears == ((12, 96), (15, 30))
    assert Record.objects.filter(kind=Record.Kind.DRIVE).count() == 2


def test_gears_that_are_gone_are_taken_off(machine: Machine, fitter: User) -> None:
    drive = save_drive(machine=machine, entry=entry(gears=((12, 120),)), at=MONDAY, by=fitter)

    save_drive(machine=machine, drive=drive, entry=entry(), at=MONDAY, by=fitter)

    assert machine.drives.count() == 1


def test_a_belt_fitted_today_counts_from_the_moment_it_is_told(
    machine: Machine, fitter: User
) -> None:
    new = entry(
        fitted_on=MONDAY.date(),
        figures={"belt_new_width_m": figure("12.9", WIDTH, tool="calliper")},
    )

    drive = save_drive(machine=machine, entry=new, at=MONDAY, by=fitter)
    again = save_drive(
        machine=machine, drive=drive, entry=new, at=MONDAY + timedelta(days=9), by=fitter
    )

    assert fitted_since(again) == MONDAY
    assert again.belt_fitted_tenths == machine.hours_tenths
    # Tool errors: 0.05 mm reading and 0.1 mm pinch, each over the square root of 3, together.
    assert again.belt_new_width_u_m == pytest.approx(0.0645e-3, abs=0.0001e-3)


def test_the_same_sent_again_changes_nothing(machine: Machine, fitter: User) -> None:
    key = new_id()

    first = save_drive(machine=machine, entry=entry(), at=MONDAY, by=fitter, record_id=key)
    again = save_drive(machine=machine, entry=entry(), at=MONDAY, by=fitter, record_id=key)

    assert first == again
    assert Record.objects.count() == 1


def test_a_drive_of_another_machine_is_not_changed(machine: Machine, fitter: User) -> None:
    foreign = make_drive(make_machine(make_depot("west")))

    with pytest.raises(Drive.DoesNotExist):
        save_drive(machine=machine, drive=foreign, entry=entry(), at=MONDAY, by=fitter)


def test_who_may_not_work_changes_no_drive(machine: Machine, operator: User) -> None:
    with pytest.raises(PermissionError):
        save_drive(machine=machine, entry=entry(), at=MONDAY, by=operator)
