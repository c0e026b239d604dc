"""The canonical form and the chain are frozen: a change here would break every sealed record."""

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from string import ascii_lowercase, digits

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.sealing import (
    NO_HASH,
    Link,
    canonical,
    chain_hash,
    commitment,
    content_hash,
    moment,
    verify,
)


def chain(contents: list[str]) -> list[Link]:
    links, previous = [], NO_HASH
    for seq, content in enumerate(contents, 1):
        digest = content_hash(content)
        link = chain_hash(previous=previous, content=digest)
        links.append(Link(seq, content, digest, previous, link))
        previous = link
    return links


def report_of(links: list[Link], head: Link):
    return verify(links, head_seq=head.seq, head_hash=head.hash)


LINKS = chain([canonical({"data": f"record {n}"}) for n in range(1, 6)])


def test_keys_are_sorted_without_spaces_and_text_is_nfc() -> None:
    text = canonical({"b": None, "a": ["e\u0301", True], "c": {"z": "1.5", "y": "mm"}})

    assert text == '{"a":["\u00e9",true],"b":null,"c":{"y":"mm","z":"1.5"}}'


@pytest.mark.parametrize("number", [1, 1.5, float("nan")])
def test_a_bare_number_has_no_canonical_form(number: float) -> None:
    with pytest.raises(TypeError):
        canonical({"width": number})  # type: ignore[dict-item]


def test_a_lone_surrogate_is_refused() -> None:
    with pytest.raises(UnicodeEncodeError):
        canonical({"note": "\ud800"})


def test_a_moment_is_utc_to_the_millisecond() -> None:
    at = datetime(2026, 7, 1, 8, 30, 15, 123_999, tzinfo=timezone(timedelta(hours=1)))

    assert moment(at) == "2026-07-01T07:30:15.123Z"
    with pytest.raises(ValueError, match="time zone"):
        moment(datetime(2026, 7, 1))


def test_hashes_agree_with_hashlib_called_by_hand() -> None:
    """FIPS 180-4 SHA-256 through hashlib, put together here without the project's functions."""
    content = '{"data":"one"}'
    inner = hashlib.sha256(content.encode()).digest()
    outer = hashlib.sha256(b"\x00" + bytes(32) + inner).hexdigest()

    assert chain_hash(previous=NO_HASH, content=content_hash(content)) == outer
    assert commitment(salt="ab" * 32, text="Ana") == (
        hashlib.sha256(bytes.fromhex("ab" * 32) + b"Ana").hexdigest()
    )


def test_a_whole_chain_verifies() -> None:
    report = report_of(LINKS, LINKS[-1])

    assert (report.count, report.bad_seq, report.head) == (5, None, LINKS[-1].hash)


def test_an_empty_chain_verifies() -> None:
    assert verify([], head_seq=0, head_hash=NO_HASH).bad_seq is None


@pytest.mark.parametrize("seq", range(1, 6))
@pytest.mark.parametrize("field", ["content", "content_hash", "previous", "hash"])
def test_one_changed_character_is_found_and_named(seq: int, field: str) -> None:
    old = getattr(LINKS[seq - 1], field)
    new = old[:-2] + ("0" if old[-2] != "0" else "1") + old[-1]
    links = [*LINKS]
    links[seq - 1] = replace(LINKS[seq - 1], **{field: new})

    assert report_of(links, LINKS[-1]).bad_seq == seq


def test_a_missing_record_is_found_wherever_it_was() -> None:
    for seq in range(1, 6):
        links = [link for link in LINKS if link.seq != seq]

        assert report_of(links, LINKS[-1]).bad_seq == seq


def test_two_swapped_records_are_found() -> None:
    links = [*LINKS]
    links[1], links[2] = replace(LINKS[2], seq=2), replace(LINKS[1], seq=3)

    assert report_of(links, LINKS[-1]).bad_seq == 2


def test_a_fork_is_found() -> None:
    links = [*LINKS[:3], LINKS[2], *LINKS[3:]]

    report = report_of(links, LINKS[-1])

    assert (report.bad_seq, report.what.split(":")[0]) == (3, "forked")


def test_a_tail_cut_off_is_found_by_the_head() -> None:
    assert report_of(LINKS[:3], LINKS[-1]).bad_seq == 4


texts = st.text(st.characters(exclude_categories=["Cs"]))
# A letter and what may follow it: drawn in a third of the time that a pattern takes.
keys = st.builds(
    str.__add__, st.sampled_from(ascii_lowercase), st.text(f"{ascii_lowercase}{digits}_")
)
trees = st.recursive(
    st.none() | st.booleans() | texts,
    lambda part: st.lists(part) | st.dictionaries(keys, part),
)


@given(st.dictionaries(keys, trees))
def test_reading_the_canonical_form_back_and_writing_it_again_changes_nothing(content) -> None:
    once = canonical(content)

    assert canonical(json.loads(once)) == once
    assert "\n" not in once
    assert moment(datetime(2026, 1, 1, tzinfo=UTC)).endswith("Z")


GOLDEN = json.loads((Path(__file__).parent / "golden_records.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", GOLDEN, ids=lambda row: row["content"]["kind"])
def test_the_twenty_golden_records_keep_their_text_and_their_hashes(row) -> None:
    """Made once with json and hashlib alone. Never change that file: records are sealed by it."""
    text = canonical(row["content"])

    assert text == row["text"]
    assert content_hash(text) == row["content_hash"]
    assert chain_hash(previous=row["previous"], content=row["content_hash"]) == row["hash"]


def test_the_golden_records_are_one_whole_chain() -> None:
    links = [
        Link(n, row["text"], row["content_hash"], row["previous"], row["hash"])
        for n, row in enumerate(GOLDEN, 1)
    ]

    report = report_of(links, links[-1])

    assert (report.count, report.bad_seq) == (20, None)
