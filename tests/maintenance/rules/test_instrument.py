"""What the calibrations of an instrument say of its readings."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.rules.instrument import Calibration, against_pass, doubted_by, in_force, refusal

DAY = date(2026, 3, 2)


def on(days: int, *, good: bool = True, until: int | None = 365) -> Calibration:
    done = DAY + timedelta(days=days)
    return Calibration(
        id=days,
        done_on=done,
        found_good=good,
        valid_until=None if until is None else done + timedelta(days=until),
    )


def at(days: int) -> date:
    return DAY + timedelta(days=days)


def test_readings_count_to_the_last_day_of_the_calibration() -> None:
    known = [on(0, until=30)]

    assert refusal(known, on=at(30)) == ""
    assert refusal(known, on=at(31)) == (
        "Calibration ended on 1 Apr 2026. Its readings cannot make a pass."
    )
    assert "no calibration yet" in refusal(known, on=at(-1))
    assert "no calibration yet" in refusal([], on=DAY)


def test_found_wrong_and_not_put_right_it_counts_for_nothing() -> None:
    known = [on(0), on(100, good=False, until=None)]

    assert refusal(known, on=at(99)) == ""
    assert "not put right" in refusal(known, on=at(100))
    assert refusal([*known, on(120)], on=at(120)) == ""


def test_of_two_calibrations_on_one_day_the_last_told_counts() -> None:
    first = Calibration(id=1, done_on=DAY, found_good=False, valid_until=None)
    second = Calibration(id=2, done_on=DAY, found_good=True, valid_until=at(365))

    assert in_force([second, first], on=DAY) is second


def test_tests_since_the_last_good_calibration_come_into_doubt() -> None:
    wrong = on(200, good=False)
    known = [on(0), on(100), wrong]

    doubted = {days for days in range(-5, 260) if doubted_by(known, day=at(days)) is wrong}
    assert doubted == set(range(100, 201))


def test_without_an_earlier_calibration_everything_before_is_in_doubt() -> None:
    known = [on(0, good=False)]

    assert doubted_by(known, day=at(-5000)) is not None
    assert doubted_by(known, day=at(0)) is not None
    assert doubted_by(known, day=at(1)) is None


def test_put_right_it_counts_from_that_day_as_after_a_good_one() -> None:
    known = [on(0), on(100, good=False), on(200)]

    assert doubted_by(known, day=at(150)) is None
    assert doubted_by(known, day=at(50)) is not None


def test_left_wrong_twice_the_first_one_is_named() -> None:
    first, second = on(100, good=False, until=None), on(150, good=False)

    assert doubted_by([on(0), first, second], day=at(50)) is first
    assert doubted_by([on(0), first, second], day=at(120)) is second


def test_a_calibration_cannot_end_before_it_was_done() -> None:
    with pytest.raises(ValueError, match="from its day on"):
        on(0, until=-1)


CALIBRATIONS = st.lists(
    st.builds(on, st.integers(-100, 100), good=st.booleans(), until=st.none() | st.just(50)),
    max_size=8,
    unique_by=lambda each: each.done_on,
)


@given(CALIBRATIONS, st.integers(-120, 120), st.randoms())
def test_the_order_in_which_calibrations_are_told_makes_no_difference(
    known: list[Calibration], day: int, dice: object
) -> None:
    shuffled = list(known)
    dice.shuffle(shuffled)  # type: ignore[attr-defined]

    assert doubted_by(known, day=at(day)) == doubted_by(shuffled, day=at(day))
    assert refusal(known, on=at(day)) == refusal(shuffled, on=at(day))


@given(CALIBRATIONS, st.integers(-120, 120))
def test_a_doubt_is_always_of_one_found_wrong_on_or_after_the_day(
    known: list[Calibration], day: int
) -> None:
    found = doubted_by(known, day=at(day))

    if found is None:
        # Then every one found wrong later has a sound one between, after this day.
        for wrong in (each for each in known if not each.found_good and each.done_on >= at(day)):
            assert any(
                at(day) < each.done_on < wrong.done_on and each.valid_until for each in known
            )
    else:
        assert not found.found_good
        assert found.done_on >= at(day)


@given(CALIBRATIONS, st.integers(-120, 120))
def test_a_good_calibration_told_late_never_makes_a_doubt(
    known: list[Calibration], day: int
) -> None:
    if doubted_by(known, day=at(day)) is None:
        late = on(101)
        assert doubted_by([*known, late], day=at(day)) is None


def test_a_pass_that_only_a_struck_calibration_allowed_counts_no_longer() -> None:
    mistyped = replace(on(0, until=365), struck=True)

    assert against_pass([mistyped], day=at(100)) is mistyped
    assert against_pass([mistyped, on(0, until=30)], day=at(20)) is None
    assert against_pass([mistyped, on(0, until=30)], day=at(100)) is mistyped
    assert against_pass([on(-10, until=365), mistyped], day=at(100)) is None


def test_found_wrong_by_a_slip_and_struck_out_throws_no_doubt() -> None:
    slip = replace(on(100, good=False, until=None), struck=True)

    assert against_pass([on(0), slip], day=at(50)) is None
    assert refusal([on(0), slip], on=at(150)) == ""


@given(CALIBRATIONS, CALIBRATIONS, st.integers(-120, 120))
def test_what_is_struck_out_says_nothing_of_any_reading(
    known: list[Calibration], struck: list[Calibration], day: int
) -> None:
    both = [*known, *(replace(each, struck=True) for each in struck)]

    assert refusal(both, on=at(day)) == refusal(known, on=at(day))
    assert doubted_by(both, day=at(day)) == doubted_by(known, day=at(day))
    stands = not refusal(known, on=at(day)) and doubted_by(known, day=at(day)) is None
    assert (against_pass(both, day=at(day)) is None) or not stands
