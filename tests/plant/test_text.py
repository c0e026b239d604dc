"""What text is let in, and which machine numbers are the same."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.text import TextRefused, clean, number_key


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("Łukasz Wiśniewski", "Łukasz Wiśniewski"),
        ("Cafe\u0301", "Café"),
        ("  belt\r\nslips\rbadly\u2028here\n", "belt\nslips\nbadly\nhere"),
        ("", ""),
        ("slip <5 % & more", "slip <5 % & more"),
        ("مضخة", "مضخة"),
    ],
)
def test_text_is_kept_composed_with_one_kind_of_line_break(text: str, kept: str) -> None:
    assert clean(text) == kept


@pytest.mark.parametrize(
    "bad",
    ["\0", "\t", "\x1b", "\x7f", "\x85", "\ud800", "\udfff"]
    + [chr(one) for one in [*range(0x202A, 0x202F), *range(0x2066, 0x206A)]],
)
def test_what_cannot_be_kept_is_refused(bad: str) -> None:
    with pytest.raises(TextRefused) as refused:
        clean(f"a{bad}b")

    assert len(str(refused.value).split()) <= 25


def test_a_line_break_is_refused_where_one_line_is_asked_for() -> None:
    for text in ("a\nb", "a\r\nb", "a\u2029b"):
        with pytest.raises(TextRefused, match="one line"):
            clean(text, lines=False)


def test_length_is_counted_on_what_is_kept() -> None:
    assert clean("e\u0301" * 10, high=10) == "é" * 10
    assert clean(" 1234567890 ", low=10) == "1234567890"
    with pytest.raises(TextRefused, match="at least 10"):
        clean("  123456789 ", low=10)
    with pytest.raises(TextRefused, match="10 characters"):
        clean("x" * 11, high=10)
    with pytest.raises(TextRefused, match="2 000 characters"):
        clean("x" * 5_000_000)
    # Composition can also lengthen: U+FB2C becomes three characters.
    with pytest.raises(TextRefused, match="10 characters"):
        clean("\ufb2c" * 4, high=10)


def test_a_text_that_cannot_be_seen_counts_as_empty() -> None:
    for text in ("", "  \n ", "\u200b", "\u00ad\u2800", "\u3000"):
        with pytest.raises(TextRefused, match="empty"):
            clean(text, low=1)


@given(st.text(max_size=200))
def test_what_is_kept_is_kept_again_unchanged(text: str) -> None:
    try:
        kept = clean(text)
    except TextRefused:
        return
    assert clean(kept) == kept
    assert unicodedata.is_normalized("NFC", kept)
    kept.encode()


@pytest.mark.parametrize("spelling", ["MX-203", "mx 203", "MX203", " Mx.2/03 ", "m-x-2-0-3"])
def test_spellings_of_one_number_share_a_key(spelling: str) -> None:
    assert number_key(spelling) == "MX203"


def test_noughts_in_front_make_another_machine() -> None:
    assert number_key("00412") == "00412" != number_key("412")


@pytest.mark.parametrize(
    "bad",
    [
        "",
        "   ",
        "-./",
        "MX_203",
        "MX\u2013203",
        "ΜΧ203",
        "mıx",
        "ß",
        "MX\n203",
        "２０３",
        "x" * 33,
        "A\0",
    ],
)
def test_a_number_with_anything_else_is_refused(bad: str) -> None:
    with pytest.raises(TextRefused) as refused:
        number_key(bad)

    assert len(str(refused.value).split()) <= 25


def test_the_longest_number_is_taken() -> None:
    assert number_key("a" * 32) == "A" * 32
