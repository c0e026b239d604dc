"""What people type about a drive becomes SI, or is refused beside its field."""

from math import pi

import pytest

from plant.drives.outcome import LABELS, DriveGiven
from plant.typed_drive import CHOICES, FLAGS, MEASURES, OTHER, NotReadable, given_from_typed
from plant.units import LENGTH, read


def test_figures_are_read_with_their_units_and_kept_as_typed() -> None:
    given = given_from_typed(
        {
            "driver": "80",
            "driven": "7 1/16 in",
            "width_now": "1.04 cm",
            "motor_power": "1 hp",
            "motor_speed": "1400 rpm",
            "hours_a_day": "4:30",
            "slip": "1.5 %",
            "driver_angle": "34 deg",
            "reading_force": "2 lbf",
        }
    )

    assert given.driver == 0.08
    assert given.driven == pytest.approx(7.0625 * 0.0254)
    assert given.width_now == 0.0104
    assert given.motor_power == pytest.approx(745.6998715822702)
    assert given.motor_speed == pytest.approx(1400 * pi / 30)
    assert given.hours_a_day == 4.5
    assert given.slip == 0.015
    assert given.driver_angle == pytest.approx(34 * pi / 180)
    assert given.reading_force == pytest.approx(8.896443230521)
    assert given.typed["driven"] == "7 1/16 in"


def test_a_figure_already_read_is_taken_as_it_is() -> None:
    assert given_from_typed({"driver": read("80 mm", LENGTH)}).driver == 0.08


def test_a_ride_below_the_rim_is_negative() -> None:
    assert given_from_typed({"driver_ride": "-1.2 mm"}).driver_ride == -0.0012


def test_the_tool_gives_the_doubt() -> None:
    rule = given_from_typed({"width_now": "12 mm", "tools": {"width_now": "steel rule"}})
    calliper = given_from_typed({"width_now": "12 mm", "tools": {"width_now": "calliper"}})

    assert rule.width_now_u == pytest.approx(0.32e-3, abs=0.005e-3)
    assert calliper.width_now_u < 0.1e-3


def test_the_mark_gives_section_and_length() -> None:
    given = given_from_typed({"belt_mark": "13A690 660 Li"})

    assert (given.section, given.length, given.length_system) == ("A", 0.690, "ISO/DIN")
    assert given.marks["length"] == "plate"
    assert given.typed["length"] == "13A690 660 Li"


def test_the_length_system_decides_an_inch_mark() -> None:
    metric = given_from_typed({"belt_mark": "A26"})
    inch = given_from_typed({"belt_mark": "A26", "length_system": "RMA"})

    assert metric.length == pytest.approx(0.6904)
    assert inch.length == pytest.approx(0.69342)


def test_belts_sized_at_the_rim_give_their_effective_length() -> None:
    """3V500 is 50.0 in, and a 6PJ1200 1200 mm, of effective length (ANSI/RMA IP-22, ISO 9982)."""
    assert given_from_typed({"belt_mark": "3V500"}).length == pytest.approx(50.0 * 0.0254)
    assert given_from_typed({"belt_mark": "6PJ1200"}).length == pytest.approx(1.2)


def test_a_length_that_is_typed_outranks_the_mark() -> None:
    assert given_from_typed({"belt_mark": "A26", "length": "700 mm"}).length == 0.7


@pytest.mark.parametrize(
    ("entries", "field", "said"),
    [
        ({"driver": "80 kg"}, "driver", "mm"),
        ({"driver": "80,5 mm"}, "driver", "point"),
        ({"driver": 80}, "driver", "as text"),
        ({"belt_mark": "A690"}, "belt_mark", "."),
        ({"belt_mark": "???"}, "belt_mark", "."),
        ({"belt_mark": "A26", "section": "B"}, "belt_mark", "section A"),
        ({"load": "huge"}, "load", "Choose one of"),
        ({"hard_start": "yes"}, "hard_start", "true or false"),
        ({"belts": "two"}, "belts", "whole number"),
        ({"belts": 1.0}, "belts", "whole number"),
        ({"friction": "0,3"}, "friction", "plain number"),
        ({"gears": "15-60"}, "gears", "15:60"),
        ({"gears": [[15, 60, 1]]}, "gears", "15:60"),
        ({"gears": [[15, "60"]]}, "gears", "15:60"),
        ({"gears": 5}, "gears", "15:60"),
        ({"marks": {"driver": "sure"}}, "marks", "measured"),
        ({"marks": "driver"}, "marks", "measured"),
        ({"tools": {"width_now": "eye"}}, "tools", "calliper"),
        ({"tools": {"length": "tape"}}, "tools", "No tool"),
        ({"tools": 1}, "tools", "tool"),
        ({"section": 5}, "section", "text"),
        ({"belt_mark": "A" * 201}, "belt_mark", "200"),
        ({"colour": "red"}, "colour", "no such field"),
    ],
    ids=str,
)
def test_what_cannot_be_used_is_said_beside_its_field(
    entries: dict[str, object], field: str, said: str
) -> None:
    with pytest.raises(NotReadable) as refused:
        given_from_typed(entries)

    assert said in refused.value.wrong[field]


def test_every_wrong_field_is_told_at_once() -> None:
    with pytest.raises(NotReadable) as refused:
        given_from_typed({"driver": "x", "driven": "y", "load": "z"})

    assert set(refused.value.wrong) == {"driver", "driven", "load"}


def test_every_field_of_a_drive_can_be_typed() -> None:
    derived = {"typed", "width_new_u", "width_now_u", "width_placed_u", "ride_u", "reading_force_u",
               "reading_frequency_u", "tools"}  # fmt: skip
    fields = set(DriveGiven.__dataclass_fields__) - derived

    assert fields <= {*MEASURES, *CHOICES, *FLAGS, *OTHER}
    assert fields - {"marks"} <= set(LABELS)
