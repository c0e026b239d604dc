"""The calendar file, read back by a library that did not write it."""

from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from plant.calendar_out import LONGEST_LINE, Event, calendar

CHANGED = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
WORDS = st.text(st.characters(exclude_categories=("Cs",)), max_size=200)


def event(**more: object) -> Event:
    given_: dict[str, object] = {
        "uid": "due-1-1@plant.example", "on": date(2026, 12, 1), "summary": "MX-203 Service",
        "description": "Why", "address": "https://plant.example/machines/1", "changed_at": CHANGED,
    }  # fmt: skip
    return Event(**given_ | more)  # type: ignore[arg-type]


def read(data: bytes) -> Calendar:
    return Calendar.from_ical(data)


def as_a_reader_sees(words: str) -> str:
    """Line breaks are one character, and control characters spaces; all else stays."""
    lines = words.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(c if c == "\n" or (c >= " " and c != "\x7f") else " " for c in lines)


@given(summary=WORDS, description=WORDS)
def test_any_words_come_back_as_they_were(summary: str, description: str) -> None:
    found = read(calendar(name="x", events=[event(summary=summary, description=description)]))

    (one,) = found.walk("VEVENT")
    assert str(one["SUMMARY"]) == as_a_reader_sees(summary)
    assert str(one["DESCRIPTION"]) == as_a_reader_sees(description)


@given(words=WORDS)
def test_every_line_has_at_most_75_octets_and_ends_in_crlf(words: str) -> None:
    """RFC 5545, section 3.1."""
    data = calendar(name=words, events=[event(summary=words, description=words)])

    assert data.endswith(b"\r\n")
    lines = data.removesuffix(b"\r\n").split(b"\r\n")
    for line in lines:
        assert len(line) <= LONGEST_LINE == 75
        assert b"\n" not in line
        assert b"\r" not in line
        line.decode("utf-8")  # never cut inside a character


def test_the_text_of_the_standards_own_example() -> None:
    """RFC 5545, section 3.3.11: the value "Project XYZ Final Review\\nConference Room - 3B\\nCome
    Prepared." stands for three lines."""
    told = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    data = calendar(name="x", events=[event(description=told)])

    plain = data.replace(b"\r\n ", b"").decode()
    assert (
        "DESCRIPTION:Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.\r\n" in plain
    )


def test_the_name_of_the_calendar_is_told_as_text() -> None:
    """RFC 7986, section 5.1."""
    assert b"\r\nNAME:North\\, south\\; west\r\n" in calendar(name="North, south; west", events=[])


def test_words_cannot_begin_a_line_of_their_own() -> None:
    hostile = "x\r\nATTENDEE:mailto:a@evil.example\nBEGIN:VEVENT\r\x0bEND:VEVENT;,\\"
    found = read(calendar(name=hostile, events=[event(summary=hostile, description=hostile)]))

    (one,) = found.walk("VEVENT")
    assert "ATTENDEE" not in one


def test_an_event_says_its_day_its_place_and_when_it_changed() -> None:
    (one,) = read(calendar(name="x", events=[event()])).walk("VEVENT")

    assert one["DTSTART"].dt == date(2026, 12, 1)
    assert not isinstance(one["DTSTART"].dt, datetime)
    assert one["LAST-MODIFIED"].dt == CHANGED
    assert one["DTSTAMP"].dt == CHANGED
    assert str(one["URL"]) == "https://plant.example/machines/1"
    assert str(one["STATUS"]) == "CONFIRMED"
    assert str(one["UID"]) == "due-1-1@plant.example"


def test_what_changed_later_has_a_higher_number_and_the_same_name() -> None:
    moved = event(on=date(2026, 12, 8), changed_at=CHANGED.replace(hour=10), revision=1)
    first, later = (
        read(calendar(name="x", events=[each])).walk("VEVENT")[0] for each in (event(), moved)
    )

    assert first["UID"] == later["UID"]
    assert later["SEQUENCE"] > first["SEQUENCE"]


def test_a_calendar_without_events_is_one_all_the_same() -> None:
    """RFC 5545, section 3.6: there has to be at least one component."""
    found = read(calendar(name="Empty", events=[]))

    assert found.walk("VEVENT") == []
    assert len(found.subcomponents) == 1


def test_what_was_called_off_is_cancelled() -> None:
    (one,) = read(calendar(name="x", events=[event(cancelled=True)])).walk("VEVENT")

    assert str(one["STATUS"]) == "CANCELLED"


@given(st.lists(st.dates(date(2000, 1, 1), date(2100, 1, 1)), max_size=20))
def test_equal_events_give_equal_bytes(days: list[date]) -> None:
    given_ = [event(uid=f"{n}@x", on=day) for n, day in enumerate(days)]

    data = calendar(name="x", events=given_)
    assert data == calendar(name="x", events=list(given_))
    assert [one["DTSTART"].dt for one in read(data).walk("VEVENT")] == days
