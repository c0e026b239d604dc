"""What may be a password: NIST SP 800-63B-4, as read in plant/passwords.py (from memory)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.passwords import LONGEST, SHORTEST, as_kept, known_words, refusal

COMMON = {"iloveyou", "password", "sunshine", "dragonfly"}.__contains__
GOOD = "kettle birch lantern otter"


def why(password: str, *names: str) -> str:
    return refusal(password, words=known_words(*names), is_common=COMMON)


@pytest.mark.parametrize(
    "password",
    [
        GOOD,
        " kettle birch 7 ",
        "ßårgé & Łódź 19:04",
        "絵馬の裏に書いた願いは七つの橋を渡る夜",
        "x9$Lq!27vTz&Wm4",
    ],
)
def test_any_characters_will_do(password: str) -> None:
    assert why(password, "Ida Brandt", "ida.brandt") == ""


@pytest.mark.parametrize(("length", "taken"), [(14, False), (15, True), (128, True), (129, False)])
def test_from_15_to_128_characters(length: int, taken: bool) -> None:
    password = (GOOD * 6)[: length - 3] + "q7%"

    assert (why(password) == "") is taken


@pytest.mark.parametrize(
    ("password", "told"),
    [
        ("aaaaaaaaaaaaaaaaaaaa", "repeats"),
        ("abcabcabcabcabcabc", "repeats"),
        ("abcdefghijklmnop", "repeats"),
        ("ponmlkjihgfedcba", "repeats"),
        ("qwertyuiopasdfghj", "repeats"),
        ("iloveyouiloveyou", "first that are tried"),
        ("sunshine20262026", "first that are tried"),
        ("Dragonfly1234567", "first that are tried"),
        ("Ida.Brandt-2026!", "built from names"),
        ("quillmere-yard-2026", "built from names"),
        ("siteplantpassword1", "built from names"),
        ("Ìdä Brändt, Quillmere", "built from names"),
    ],
)
def test_what_everybody_tries_first_is_refused(password: str, told: str) -> None:
    assert told in why(password, "Ida Brandt", "ida.brandt", "Quillmere yard", "qm")


def test_a_name_inside_a_good_one_is_no_harm() -> None:
    assert why(f"ida {GOOD}", "Ida Brandt") == ""


def test_two_keyboards_write_the_same() -> None:
    assert as_kept("A\u030angstro\u0308m") == as_kept("\u00c5ngstr\u00f6m")


@given(st.text(max_size=2 * LONGEST))
def test_it_answers_whatever_is_typed(typed: str) -> None:
    told = why(typed, "Ida Brandt", typed)

    assert told or SHORTEST <= len(as_kept(typed)) <= LONGEST
