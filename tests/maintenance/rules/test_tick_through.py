"""Patterns in checks: told with their figures, only where there are enough, never as a charge."""

from datetime import UTC, datetime, timedelta
from math import log
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from maintenance.rules.tick_through import (
    FEWEST,
    MINUTE,
    QUICK,
    RHYTHM,
    SENT,
    SITES,
    SITTINGS,
    Done,
    Look,
    median_deviation,
    normal,
    worth_a_look,
)

ZONE = ZoneInfo("Europe/London")
START = datetime(2026, 9, 1, 7, 0, tzinfo=ZONE)
NOW = START + timedelta(days=60)
# [s] Seconds of eight questions that a person looked at, each a little different.
LOOKED = (9.0, 4.1, 6.3, 5.2, 7.7, 3.9, 5.8, 6.6)
# [min] Nobody comes on the minute.
LATE = (0, 11, 4, 23, 7, 17, 2, 29, 13)


def check(n: int, **more: object) -> Done:
    """The check of one day, looked at, told at once."""
    at = more.pop("at", START + timedelta(days=n, minutes=LATE[n % len(LATE)]))
    factor = 0.8 + (n * 7 % 10) / 20
    given = {
        "key": f"{n}", "person": "Ansa", "machine": "MX-1", "kind": "mixer", "site": "Plot 4",
        "at": at, "received_at": at, "seconds": tuple(s * factor for s in LOOKED),
    }  # fmt: skip
    return Done(**given | more)  # type: ignore[arg-type]


def looks(*checks: Done) -> dict[str, Look]:
    """By pattern, of the last 28 days."""
    found, _ = worth_a_look(checks, since=NOW - timedelta(days=28))
    return {look.pattern: look for look in found}


USUAL = [check(n) for n in range(60)]


def quick(n: int, seconds: tuple[float, ...] = (0.9, 0.6, 1.2, 0.7, 0.4, 1.1, 0.6, 0.8)) -> Done:
    return check(n, seconds=seconds)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        # Printed example of R's package rwavelet, manual page MAD: 1.48258 times 0.6745.
        ((1, 1, 2, 2, 4, 6, 9), 1.0),
        # Printed example of the crate rhai-sci 0.2.2, function mad.
        ((1, 2, 3, 3, 4, 4, 4, 5, 5.5, 6, 6, 6.5, 7, 7, 7.5, 8, 9, 12, 52, 90), 2.0),
    ],
)
def test_the_median_deviation_is_that_of_printed_examples(
    values: tuple[float, ...], expected: float
) -> None:
    assert median_deviation(values) == expected


@given(st.lists(st.floats(0.1, 600), min_size=FEWEST, max_size=60))
@settings(max_examples=50)
def test_what_is_quick_is_the_modified_z_score_of_iglewicz_and_hoaglin(paces: list[float]) -> None:
    """Worked out the other way round with numpy: 0.6745 (x - median) / MAD is -3.5 there."""
    found = normal(paces)
    assert found is not None
    logs = np.log(paces)
    spread = max(float(np.median(np.abs(logs - np.median(logs)))), 0.1)

    assert found.usual == pytest.approx(float(np.exp(np.median(logs))))
    score = 0.6745 * (log(found.quick_below) - log(found.usual)) / spread
    assert score == pytest.approx(-3.5)


def test_work_done_as_usual_stands_out_in_nothing() -> None:
    assert looks(*USUAL) == {}


def test_quick_checks_are_told_with_what_is_usual() -> None:
    found = looks(*USUAL[:50], *(quick(n) for n in range(50, 55)))

    assert list(found) == [QUICK]
    assert found[QUICK].newest.key == "54"
    for part in ("5 of ", "0.8 s a question, 8 questions", "Usual for this person 6.", "MX-1 on"):
        assert part in found[QUICK].words


def test_less_than_a_second_a_question_is_told_also_of_who_is_always_quick() -> None:
    found = looks(*(quick(n) for n in range(30, 60)))

    assert "Usual for this person 0.8 s" in found[QUICK].words


def test_who_is_quick_among_the_slow_is_not_told_for_that_alone() -> None:
    """Quick for the kind, but as usual for the person; and above any floor."""
    others = [check(n, person="Bo", seconds=(30.0,) * 8, key=f"b{n}") for n in range(60)]
    own = [check(n, seconds=tuple(s / 3 for s in LOOKED)) for n in range(60)]

    assert QUICK not in looks(*others, *own)


def test_a_slip_or_two_are_no_pattern() -> None:
    assert looks(*USUAL[:50], quick(50), quick(51)) == {}


@given(st.integers(1, FEWEST - 1))
@settings(max_examples=14)
def test_of_fewer_than_fifteen_checks_nothing_is_said(count: int) -> None:
    all_alike = [quick(60 - n, (0.5,) * 8) for n in range(count)]

    found, silent = worth_a_look(all_alike, since=NOW - timedelta(days=28))

    assert (found, silent) == ([], ["Ansa"])


def test_one_rhythm_is_told_although_the_page_was_read_first() -> None:
    steady = [check(n, seconds=(14.0, 2.0, 2.1, 2.2, 2.0, 2.3, 2.1, 2.2)) for n in range(40, 44)]

    found = looks(*USUAL[:40], *steady)

    assert "7 questions of 2.0 to 2.3 s" in found[RHYTHM].words
    # One that took longer among them is a rhythm no more.
    other = [check(n, seconds=(14.0, 2.0, 2.1, 2.2, 2.0, 2.4, 2.1, 2.2)) for n in range(40, 44)]
    assert RHYTHM not in looks(*USUAL[:40], *other)


def test_a_weeks_sheet_filled_in_on_friday_is_told() -> None:
    friday = datetime(2026, 10, 23, 15, 50, tzinfo=ZONE)
    sheet = [check(n, at=friday + timedelta(minutes=4 * n), key=f"f{n}") for n in range(5)]

    words = looks(*USUAL[:50], *sheet)[SITTINGS].words

    assert words == (
        "5 checks of MX-1 were passed within 16 min on 23 Oct 2026, from 15:50 to 16:06."
    )
    two = [check(n, at=friday + timedelta(minutes=25 * n), key=f"f{n}") for n in range(5)]
    assert SITTINGS not in looks(*USUAL[:50], *two)


def test_sites_minutes_apart_are_told_from_the_third_time_on() -> None:
    def pair(n: int, apart: float) -> list[Done]:
        at = START + timedelta(days=n, hours=3)
        there = at + timedelta(minutes=apart)
        return [
            check(n, at=at, key=f"{n}a"),
            check(n, at=there, key=f"{n}b", machine="MX-2", site="Quarry Lane", seconds=(20.0,)),
        ]

    days = range(40, 43)
    found = looks(*USUAL, *(each for n in days for each in pair(n, 5)))
    assert "3 times two sites lay under 5 min apart: MX-1 at Plot 4, 10:00" in found[SITES].words
    # Seven minutes on the way, and the time of the check itself.
    assert SITES not in looks(*USUAL, *(each for n in days for each in pair(n, 7)))
    assert SITES not in looks(*USUAL, *(each for n in days[:2] for each in pair(n, 5)))
    unsure = (Done(**vars(each) | {"steady": False}) for n in days for each in pair(n, 5))
    assert SITES not in looks(*USUAL, *unsure)


def test_five_days_that_came_in_together_are_told_with_the_innocent_reason() -> None:
    came = datetime(2026, 10, 24, 15, 0, tzinfo=UTC)
    late = [check(n, received_at=came, key=f"s{n}") for n in range(40, 45)]

    words = looks(*USUAL[:40], *late)[SENT].words

    assert "5 checks of MX-1, of 5 days, came in together at 16:00 on 24 Oct 2026." in words
    assert "A phone without signal does the same." in words
    assert SENT not in looks(*USUAL[:40], *late[:4])


def test_the_same_three_minutes_day_after_day_are_told() -> None:
    def on_the_minute(n: int) -> Done:
        return check(n, at=START + timedelta(days=n, minutes=n % 3), key=f"m{n}")

    found = looks(*USUAL[:32], *(on_the_minute(n) for n in range(33, 45)))

    assert "MX-1 was checked between 07:00 and 07:02 on 12 of 12 days." in found[MINUTE].words
    assert MINUTE not in looks(*USUAL)


def test_what_is_long_past_is_not_brought_up_again() -> None:
    assert looks(*(quick(n) for n in range(10)), *USUAL[20:]) == {}


@given(
    st.lists(
        st.tuples(
            st.integers(0, 80_000), st.lists(st.floats(0, 3600), max_size=10), st.booleans(),
            st.sampled_from(["Ansa", "Bo"]), st.sampled_from(["", "Plot 4", "Mill Road"]),
        ),
        min_size=FEWEST,
        max_size=40,
    )
)  # fmt: skip
@settings(max_examples=40)
def test_nothing_that_a_phone_tells_makes_nonsense(
    told: list[tuple[int, list[float], bool, str, str]],
) -> None:
    checks = [
        Done(
            key=str(n), person=person, machine="MX-1", kind="mixer", site=site, steady=steady,
            at=START + timedelta(minutes=minute), received_at=NOW, seconds=tuple(seconds),
        )
        for n, (minute, seconds, steady, person, site) in enumerate(told)
    ]  # fmt: skip

    found, _ = worth_a_look(checks, since=START)

    for look in found:
        assert "nan" not in look.words
        assert "inf" not in look.words
        assert look.newest in checks
        low = look.words.lower()
        assert not any(word in low for word in ("fake", "cheat", "did not check", "lied"))
