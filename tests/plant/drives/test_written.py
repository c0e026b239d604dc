"""Drives in and out of JSON, and in plain text."""

import json
from dataclasses import replace
from math import pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.drives.errors import DriveError, OutOfRange
from plant.drives.workout import DriveGiven, work_out
from plant.drives.written import (
    given_from_json,
    given_from_plain,
    plain_from_json,
    to_json,
    to_plain,
    to_text,
    used_words,
)

DRIVE = DriveGiven(
    driver=0.08,
    driven=0.18,
    section="A",
    length=0.69,
    width_now=0.0104,
    centres=0.1311,
    slot_out=0.01,
    motor_power=550.0,
    motor_speed=1400 * pi / 30,
    gears=((15, 60), (12, 84)),
    marks={"driver": "measured"},
    typed={"driver": "80 mm"},
)


def test_json_comes_back_as_the_same_drive() -> None:
    written = json.loads(to_json(work_out(DRIVE)))

    assert given_from_json(json.dumps(written["given"] | {"marks": {}, "typed": {}})) == replace(
        DRIVE, marks={}, typed={}
    )
    assert written["given"]["typed"] == {"driver": "80 mm"}


def test_json_holds_figures_doubts_and_lines() -> None:
    written = json.loads(to_json(work_out(DRIVE)))

    assert written["verdict"] == "change now"
    assert written["wear"]["extra"]["value"] == pytest.approx(0.01293, abs=1e-5)
    assert written["wear"]["extra"]["u"] > 0
    assert written["lines"][0]["figures"] == "180.0 / 80.0"
    assert to_plain(work_out(DRIVE))["wear"]["driver"]["name"] == "motor pulley"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not JSON"),
        ("[1]", "one object"),
        ("{", "not JSON"),
        ('{"driver": NaN}', "NaN"),
        ('{"driver": -Infinity}', "-Infinity"),
        ('{"driver": 1e999}', "too large"),
        ('{"driver": ' + "1" * 5000 + "}", "too many digits"),
        ('{"driver": 0.08, "driver": 0.09}', "twice"),
        ('{"colour": 1}', "unknown key 'colour'"),
        ('{"driver": "0.08"}', "accepted: a number"),
        ('{"driver": true}', "accepted: a number"),
        ('{"belts": 1.5}', "whole number"),
        ('{"belts": null}', "cannot be null"),
        ('{"section": 5}', "a text"),
        ('{"section": "' + "A" * 61 + '"}', "a text"),
        ('{"hard_start": 1}', "true or false"),
        ('{"gears": [[15]]}', "pairs"),
        ('{"gears": [[15, "60"]]}', "pairs"),
        ('{"gears": [15, 60]}', "pairs"),
        ('{"gears": "15:60"}', "pairs"),
        ('{"marks": {"driver": "seen"}}', "accepted: measured"),
        ('{"marks": ["driver"]}', "an object"),
        ('{"typed": {"driver": 80}}', "an object"),
        ('{"a": ' * 20000 + "1" + "}" * 20000, "100000|deep"),
        (" " * 100_001, "100001 characters"),
    ],
    ids=lambda text: text[:25],
)
def test_what_is_wrong_is_said(text: str, said: str) -> None:
    with pytest.raises(OutOfRange, match=said):
        given_from_json(text)


def test_deep_nesting_is_refused() -> None:
    with pytest.raises(OutOfRange):
        plain_from_json('{"a":' + "[" * 40_000 + "]" * 40_000 + "}")


@settings(max_examples=300, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(["driver", "belts", "section", "gears", "marks", "hard_start", "x"]),
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
            lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner),
            max_leaves=4,
        ),
    )
)
def test_any_object_is_read_or_refused_in_words(plain: dict[str, object]) -> None:
    said = "worked out"
    try:
        work_out(given_from_plain(plain))
    except DriveError as refused:
        said = str(refused)
    assert said


def test_the_text_has_verdict_working_and_cautions() -> None:
    text = to_text(work_out(DRIVE))

    assert text.startswith("Verdict: change now\n")
    for words in (
        "The new belt: ",
        "Take-up left: −3.0 ±",
        "motor pulley, datum diameter: 80.0 mm ± 0.6 mm, measured",
        "guess (ISO 4183:1995, from memory)",
        "Missing",
        "Before you start",
        "Version of the sums: 1",
    ):
        assert words in text
    assert "None" not in text


def test_the_text_of_an_empty_drive_is_short_and_clear() -> None:
    text = to_text(work_out(DriveGiven()))

    assert "There is too little to judge the belt by" in text
    assert "None" not in text


def test_a_figure_without_doubt_is_written_without_one() -> None:
    used = {one.field: one for one in work_out(DRIVE).used}

    assert used_words(used["slip"]).startswith("slip: 0.01, guess (")
    assert used_words(used["driver_angle"]).startswith("groove angle, motor pulley: 34.0° ± 1.2°")


def test_the_text_gives_force_and_number_of_belts() -> None:
    text = to_text(work_out(DRIVE))

    assert "Press one belt in by 1.9 mm at mid-span: " in text
    assert "Belts needed by rma-1988: 1; fitted: 1" in text


def test_json_is_written_in_plain_letters() -> None:
    written = to_json(work_out(DRIVE))

    assert "±" in written
    assert "\\u" not in written


def test_every_line_of_the_text_has_its_doubt_and_its_note_where_it_has_one() -> None:
    found = work_out(DRIVE)
    text = to_text(found)

    assert any(line.doubt for line in found.lines)
    assert not all(line.doubt for line in found.lines)
    for line in found.lines:
        told = f" ({line.doubt})" if line.doubt else ""
        assert f"gives  {line.result}{told}\n" in text
    assert any(miss.instead for miss in found.missing)
    assert not all(miss.instead for miss in found.missing)
    for miss in found.missing:
        told = f" (taken instead: {miss.instead})" if miss.instead else ""
        assert f"  {miss.label}: would settle {miss.settles}{told}\n" in text
    for used in found.used:
        assert used_words(used).endswith(
            f"({used.note}, {used.trust})" if used.note else used.mark
        ) or (used.mark == "plate" and used_words(used).endswith("from plate"))


def test_a_refused_text_is_shown_in_its_own_letters() -> None:
    with pytest.raises(OutOfRange, match='driver is "große Scheibe"; accepted: a number'):
        given_from_plain({"driver": "große Scheibe"})
