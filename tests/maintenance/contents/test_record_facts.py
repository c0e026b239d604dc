"""Sealed figures as a reader finds them: one a line, in the unit he thinks in."""

import json
from decimal import Decimal
from math import pi
from typing import Any

import pytest

from maintenance.contents.record_facts import facts, gathered
from plant.models import Record
from plant.units import decimal_string


def _facts(data: dict[str, Any]) -> dict[str, str]:
    return dict(facts(Record(kind=Record.Kind.WIDTH, content=json.dumps({"data": data}))))


@pytest.mark.parametrize(
    ("part", "shown"),
    [
        ({"si": "0.0118321234567", "unit": "m"}, "11.8321 mm"),
        ({"si": "-0.000004", "unit": "m"}, "-0.004 mm"),
        ({"si": "0", "unit": "m"}, "0 mm"),
        ({"si": "1200", "unit": "m"}, "1200000 mm"),
        ({"si": decimal_string(34 * pi / 180), "unit": "rad"}, "34°"),
        ({"si": decimal_string(1425 * pi / 30), "unit": "rad/s"}, "1425 rpm"),
        ({"si": "113.256789", "unit": "N"}, "113.257 N"),
        ({"si": "0.00234567891", "unit": "1"}, "0.00234568"),
        ({"si": "0.0000000000069651", "unit": "1"}, "less than 0.000001"),
        ({"si": "0", "unit": "1"}, "0"),
        ({"si": "0.0800000000", "unit": "m", "mark": "plate"}, "80 mm, from plate"),
        ({"typed": "11.8", "si": "0.0118", "unit": "m"}, "11.8 (0.0118 m)"),
        ({"typed": "412.5", "si": "412.5", "unit": "1"}, "412.5"),
        (
            {
                "typed": "80 mm", "si": "0.08", "unit": "m", "mark": "measured",
                "tool": "calliper", "from": "",
            },
            "80 mm (0.08 m), measured, calliper",
        ),
        (
            {"typed": "80 mm", "si": "0.08", "unit": "m", "mark": "guess", "from": "a count"},
            "80 mm (0.08 m), guess, from: a count",
        ),
    ],
)  # fmt: skip
def test_a_sealed_figure_is_one_line_in_a_unit_that_a_reader_thinks_in(
    part: dict[str, str], shown: str
) -> None:
    assert _facts({"results": {"take_up_left": part}}) == {"Results: take-up left": shown}


def test_a_figure_shown_is_the_sealed_one_to_six_figures() -> None:
    for si in ("0.0987654321", "123456.789", "0.00000123456789", "9.9999995"):
        shown = _facts({"span": {"si": si, "unit": "m"}})["Free span"].removesuffix(" mm")
        assert abs(Decimal(shown) / 1000 / Decimal(si) - 1) < Decimal("5.1e-6")


def test_what_a_sum_started_from_is_called_as_on_the_drive_page() -> None:
    told = {"started_from": {"driver_angle": {"si": "0.593", "unit": "rad", "mark": "guess"}}}
    [(label, text)] = _facts(told).items()
    assert label == "Started from: groove angle, motor pulley"
    assert text.endswith("°, guess")
    told = {"figures": {"length": {"typed": "690", "si": "0.69", "unit": "m", "mark": "plate"}}}
    assert _facts(told) == {"Figures: datum length of the belt": "690 (0.69 m), from plate"}


def test_elsewhere_a_word_of_the_drive_means_what_it_says() -> None:
    lead = {"length": {"typed": "5 m", "si": "5", "unit": "m"}, "core": "1.5 mm2"}
    assert _facts({"lead": lead}) == {"Lead: length": "5 m", "Lead: core": "1.5 mm2"}


def test_a_mark_that_is_called_otherwise_since_is_shown_as_it_was_sealed() -> None:
    part = {"si": "0.08", "unit": "m", "mark": "by eye"}
    assert _facts({"span": part}) == {"Free span": "80 mm, by eye"}


def test_how_it_came_about_that_nothing_was_read_is_kept_apart_from_figures() -> None:
    assert _facts({"span": None, "unit": "m"}) == {"Free span": "none", "Unit": "m"}


def test_sentences_are_read_as_sentences_and_words_as_a_list() -> None:
    assert _facts({"why": ["It has lost 1.1 mm.", "Turn it in by 2 mm."]}) == {
        "Why": "It has lost 1.1 mm. Turn it in by 2 mm."
    }
    assert _facts({"frees": ["QM-1", "QM-2"], "files": []}) == {
        "Frees": "QM-1, QM-2",
        "With kept files": "none",
    }


def test_on_paper_what_was_worked_out_and_what_from_is_a_line_each_and_nothing_is_lost() -> None:
    told = [
        ("Drive", "13"),
        ("Results: take-up left", "6 mm"),
        ("Results: width lost", "0.2 mm"),
        ("Slot: room left outwards", "none"),
        ("Started from: slot: room inwards from here", "8 mm, guess"),
        ("Started from", "its own jobs"),
        ("Verdict", "fit on"),
    ]
    assert gathered(told) == [
        ("Drive", "13"),
        ("Results", "take-up left 6 mm; width lost 0.2 mm"),
        ("Slot: room left outwards", "none"),
        ("Started from", "slot: room inwards from here 8 mm, guess; its own jobs"),
        ("Verdict", "fit on"),
    ]
