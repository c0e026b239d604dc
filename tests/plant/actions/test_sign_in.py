"""Tries to sign in are counted before the password is worked on."""

from datetime import UTC, datetime, timedelta

import pytest

from plant.actions.sign_in import HeldBack, begin_attempt, forget_attempts
from plant.models import SignInAttempt

NOW = datetime(2026, 11, 25, 7, 31, tzinfo=UTC)


def test_tries_side_by_side_count_before_any_of_them_has_failed(db: None) -> None:
    for _ in range(5):
        begin_attempt(sign_in="ida", address="192.0.2.1", at=NOW)

    with pytest.raises(HeldBack) as held:
        begin_attempt(sign_in="Ida ", address="192.0.2.2", at=NOW)

    assert held.value.wait == timedelta(minutes=1)
    assert SignInAttempt.objects.count() == 5


def test_broken_minutes_are_rounded_up_in_words(db: None) -> None:
    for _ in range(6):
        try:
            begin_attempt(sign_in="ida", address="192.0.2.1", at=NOW)
        except HeldBack:
            begin_attempt(sign_in="ida", address="192.0.2.1", at=NOW + timedelta(minutes=1))

    with pytest.raises(HeldBack, match=r"Wait 2 minutes, then try again\."):
        begin_attempt(sign_in="ida", address="", at=NOW + timedelta(seconds=90))


def test_years_of_failures_still_wait_a_quarter_of_an_hour(db: None) -> None:
    key = begin_attempt(sign_in="ida", address="", at=NOW).name_key
    SignInAttempt.objects.bulk_create(
        SignInAttempt(name_key=key, address="x", at=NOW) for _ in range(3000)
    )

    assert SignInAttempt.objects.name_free_at(key, at=NOW) == NOW + timedelta(minutes=15)


def test_success_frees_the_name_and_leaves_earlier_tries_on_the_address(db: None) -> None:
    begin_attempt(sign_in="ida", address="192.0.2.1", at=NOW)
    good = begin_attempt(sign_in="ida", address="192.0.2.1", at=NOW)

    forget_attempts(good)

    (left,) = SignInAttempt.objects.all()
    assert (left.name_key, left.address) == ("", "192.0.2.1")


def test_ipv4_inside_ipv6_is_the_same_address(db: None) -> None:
    attempt = begin_attempt(sign_in="ida", address="::ffff:192.0.2.1", at=NOW)

    assert attempt.address == "192.0.2.1"
