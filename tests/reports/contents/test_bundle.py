"""The inspector's bundle against what a stranger counts from the records, and three readers."""

import io
import re
import subprocess
from base64 import b64encode
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from django.db import connection, transaction
from PIL import Image
from pypdf import PdfReader

from inspected import FIRST, LAST, NOTE, PRINTED, inspected, on
from maintenance.actions.stop import decide_stop
from maintenance.models import Skill, Stop
from make import make_competence, make_depot, make_reference, make_user
from plant import seals
from plant.models import Depot, Machine, Record, Role, User
from reports.contents.bundle import bundle
from reports.pdf.bundle import Bundle, Section, render
from reports.pdf.record import Photo
from stranger import count

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def _lived(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Lived once for all tests here, and rolled back after them."""
    with django_db_blocker.unblock(), transaction.atomic():
        make_reference()
        depot = make_depot("north")
        people = {
            name: make_user(full, (depot, role))
            for name, full, role in (
                ("operator", "Olwen Operator", Role.OPERATOR), ("desk", "Dara Desk", Role.DESK),
                ("fitter", "Finn Fitter", Role.FITTER),
                ("foreman", "Freya Foreman", Role.FOREMAN),
            )
        }  # fmt: skip
        for name in ("fitter", "foreman"):
            for skill in Skill:
                make_competence(people[name], depot, skill)
        inspected(depot, **people)
        yield
        transaction.set_rollback(True)


@pytest.fixture
def lived(_lived: None, db: None) -> Machine:
    return Machine.objects.get(number="MX-203")


@pytest.fixture
def depot(lived: Machine) -> Depot:
    return lived.depot


@pytest.fixture
def foreman(lived: Machine) -> User:
    return User.objects.get(name="Freya Foreman")


def told(machine: Machine, by: User, *, first: date = FIRST, last: date = LAST,
         at: datetime = PRINTED) -> Bundle:  # fmt: skip
    machine = Machine.objects.select_related("depot", "kind").get(pk=machine.pk)
    return bundle(machine, first=first, last=last, at=at, by=by, role="foreman", number="7")


def part(found: Bundle, key: str) -> Section:
    return next(each for each in (*found.gaps, found.corrections, *found.rest) if each.key == key)


def rows(found: Bundle, key: str) -> tuple[tuple[str, ...], ...]:
    grid = part(found, key).grid
    assert grid is not None
    return grid.rows


def pages(data: bytes) -> list[str]:
    return [each.extract_text() for each in PdfReader(io.BytesIO(data)).pages]


def letters(words: str) -> str:
    """What is printed, without the room between: readers differ about that alone."""
    return re.sub(r"\s", "", words)


def test_the_counts_are_those_of_a_stranger_with_the_sealed_records_alone(
    lived: Machine, foreman: User
) -> None:
    contents = Record.objects.filter(machine=lived).values_list("content", flat=True)
    # HSE HSG107, 3rd ed., 2013, suggested first intervals, in a second-hand table: 110 V weekly.
    counted = count(contents, first=FIRST, last=LAST, until=PRINTED, every_days=7)

    found = told(lived, foreman)

    front = dict(found.front)
    missing = dict(found.missing)
    assert front["Records in it"] == str(sum(counted.kinds.values()))
    kinds = {str(Record.Kind(kind).label): n for kind, n in counted.kinds.items()}
    assert front["By kind"] == ", ".join(f"{name} {n}" for name, n in sorted(kinds.items()))
    assert len(found.entries) == sum(counted.kinds.values())
    assert missing["Failures"].startswith(f"{counted.failures}, ")
    assert len(found.pairs) == counted.failures
    assert len(rows(found, "corrections")) == counted.corrections == 1
    days = missing["Days in use without a check"]
    assert days.startswith(f"{len(counted.unchecked)} of ")
    assert sum(int(row[2]) for row in rows(found, "gap checks")) == len(counted.unchecked)
    # By hand too: 10 to 13 Mar before the check of the 14th, 24 to 27 Mar after the release's week.
    assert counted.unchecked == [date(2026, 3, d) for d in (10, 11, 12, 13, 24, 25, 26, 27)]
    assert [row[:3] for row in rows(found, "gap checks")] == [
        ("10 Mar 2026", "13 Mar 2026", "4"), ("24 Mar 2026", "27 Mar 2026", "4"),
    ]  # fmt: skip
    assert missing["Days of which nothing is known"] == "29"


def test_each_failure_stands_with_what_was_done_and_open_ones_are_said_so(
    lived: Machine, foreman: User
) -> None:
    guard, handle, test = told(lived, foreman).pairs

    assert "Bolt sheared" in " ".join(line.what for line in guard.lines)
    assert guard.lines[-1].what.startswith("Release check")
    assert (guard.end, guard.is_open) == ("Ended on 17 Mar 2026 12:00, after 3 d 3 h.", False)
    assert any("carry on until" in line.what for line in handle.lines)
    assert handle.is_open
    assert handle.end.startswith("OPEN when this was printed, after 74 d")
    assert test.is_open
    assert test.end.startswith("Nothing was done. OPEN when this was printed, after 63 d")
    assert len(rows(told(lived, foreman), "gap nothing")) == 1
    assert len(rows(told(lived, foreman), "gap open")) == 1


def test_both_the_old_and_the_new_value_of_a_correction_are_on_the_paper(
    lived: Machine, foreman: User
) -> None:
    found = told(lived, foreman)

    ((_, was, now, why, who, _),) = rows(found, "corrections")
    assert ("10.4" in was, "12.4" in now, why) == (True, True, "Misread it")
    assert who.startswith("Finn Fitter, 23 Mar 2026")
    words = letters(" ".join(pages(render(found))))
    assert letters("Corrected by record") in words
    assert letters("10.4 mm") in words
    assert letters("12.4 mm") in words


def test_what_was_entered_later_questioned_and_sealed_with_whom_is_told(
    lived: Machine, foreman: User
) -> None:
    found = told(lived, foreman)

    ((_, _, later, _, who, _),) = rows(found, "gap later")
    assert (later, who) == ("5 h 0 min", "Olwen Operator")
    assert [row[3] for row in rows(found, "gap questioned")] == ["does not count"]
    assert {row[0] for row in rows(found, "people")} == {
        "Olwen Operator", "Dara Desk", "Finn Fitter", "Freya Foreman",
    }  # fmt: skip
    kept = {row[1].split(":")[0]: row[3] for row in rows(found, "competence")}
    assert "release checks, without a last day" in kept["Release check"]
    assert {row[2] for row in rows(found, "tested with")} == {"31 Dec 2026"}
    assert rows(found, "belts")[0][4].startswith("Put right since")
    # By hand: due on 9 Mar and 2 Apr, not done by 1 Jun: 84 and 60 days, out on 21 of the first.
    assert (rows(found, "gap tests"), dict(found.missing)["Safety tests late"]) == ((), "0")
    assert [row[3:] for row in rows(found, "gap services")] == [
        ("84", "21", "63"), ("60", "0", "60"),
    ]  # fmt: skip
    assert dict(found.missing)["Services late"] == "2: 21 days in use, 123 days not in use"
    words = part(found, "gap checks").words
    assert len([each for each in words if each.startswith("Rule: ")]) == 1


def test_a_period_with_nothing_says_none_and_does_not_pretend_to_know(
    lived: Machine, foreman: User
) -> None:
    found = told(lived, foreman, first=date(2026, 2, 1), last=date(2026, 2, 20))

    assert found.entries == found.pairs == ()
    words = " ".join(" ".join(pages(render(found))).split())
    assert words.count("None in this period.") >= 10
    assert "Of the time from 1 Feb 2026 until then nothing is known here" in words
    assert dict(found.missing)["Days of which nothing is known"] == "20"


def test_another_depots_records_of_the_machine_come_with_it_and_no_others(
    lived: Machine, foreman: User, other_depot: Depot
) -> None:
    newcomer = make_user("Nia New", (other_depot, Role.FOREMAN))
    assert told(lived, newcomer).entries == ()

    Machine.objects.filter(pk=lived.pk).update(depot=other_depot)

    found = told(lived, newcomer)
    assert len(found.entries) == Record.objects.filter(machine=lived).count()
    assert ("Records of other depots", "It brought with it those of North yard.") in found.front


def test_a_record_that_was_changed_in_the_database_is_named_first(
    lived: Machine, foreman: User
) -> None:
    odd = Record.objects.filter(machine=lived, kind=Record.Kind.TEST).first()
    assert odd is not None
    seals.lift(connection)
    Record.objects.filter(pk=odd.pk).update(role="desk")

    found = told(lived, foreman)

    assert [row[1:] for row in rows(found, "gap seal")] == [
        ("changed: the column role is not what was sealed", odd.number)
    ]
    assert any("1 are NOT" in each for each in found.sealed)


def test_the_contents_lead_to_the_pages_that_they_name(lived: Machine, foreman: User) -> None:
    data = render(told(lived, foreman))
    reader = PdfReader(io.BytesIO(data))
    shown = [" ".join(each.split()) for each in pages(data)]

    outline = [each for each in reader.outline if not isinstance(each, list)]
    assert [each["/Title"].split(".")[0] for each in outline] == [
        "Title page", "Contents", *map(str, range(1, 11)),
    ]  # fmt: skip
    for each in outline[2:]:
        page = reader.get_destination_page_number(each)
        assert page is not None
        assert each["/Title"] in shown[page]
        # The line of the contents has the same number at its end, or further on in the text.
        assert re.search(rf"(?<!\d){page + 1}(?!\d)", shown[1])
    assert all(f"page {n} of {len(shown)}" in each for n, each in enumerate(shown, 1))
    assert reader.metadata is not None
    assert reader.metadata.title == "Inspector's bundle: MX-203, 1 Feb 2026 to 1 Jun 2026"
    assert reader.metadata.author == "Freya Foreman"
    assert render(told(lived, foreman)) == data


def test_photos_stand_small_with_their_record_and_erased_ones_are_said_to_be(
    lived: Machine, foreman: User
) -> None:
    found = told(lived, foreman)
    file = io.BytesIO()
    Image.new("RGB", (36, 27), "red").save(file, "JPEG")
    small = Photo("1", "item 3", jpeg=b64encode(file.getvalue()).decode())
    gone = Photo("2", "the machine", why="Erased on 3 May 2026 10:00.")
    last = replace(found.entries[-1], photos=(small, gone))

    data = render(replace(found, entries=(*found.entries[:-1], last)))

    seen = PdfReader(io.BytesIO(data)).pages
    assert [len(page.images) for page in seen if page.images] == [1]
    words = letters("".join(page.extract_text() for page in seen))
    assert letters(f"{last.number}, photo 1: item 3.") in words
    assert letters(f"{last.number}, photo 2: the machine. Erased on 3 May 2026 10:00.") in words


def test_two_readers_and_a_third_find_every_record_with_its_hash_and_its_words_as_typed(
    lived: Machine, foreman: User, tmp_path: Path
) -> None:
    found = told(lived, foreman)
    data = render(found)
    (tmp_path / "bundle.pdf").write_bytes(data)

    first = letters("".join(pages(data)))
    document: Any = pypdfium2.PdfDocument(data)
    second = letters("".join(page.get_textpage().get_text_range() for page in document))
    out = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "bundle.pdf", "-"], capture_output=True, check=True
    )  # fmt: skip
    third = letters(out.stdout.decode())
    for words in (first, second, third):
        for record in Record.objects.filter(machine=lived):
            assert record.number in words
            assert record.hash[:16] in words
        assert letters(NOTE) in words


def test_long_words_and_european_names_are_not_clipped(lived: Machine, depot: Depot) -> None:
    """Every text three times as long, and a name with letters from all over Europe."""
    name = "Łucja Ńøßžková-Ćwięk Θάλεια Юлія"
    person = make_user(name, (depot, Role.FOREMAN))
    found = told(lived, person)
    data = render(longer(found))

    document: Any = pypdfium2.PdfDocument(data)
    for page in document:
        textpage = page.get_textpage()
        for n in range(textpage.count_rects()):
            left, bottom, right, top = textpage.get_rect(n)
            assert min(left, bottom) >= 0
            assert right <= page.get_width() + 0.5
            assert top <= page.get_height()
    words = letters("".join(page.get_textpage().get_text_range() for page in document))
    for entry in longer(found).entries:
        assert letters(entry.summary) in words
    assert letters(name) in words


def longer(found: Bundle) -> Bundle:
    def three(value: Any, name: str = "") -> Any:
        if isinstance(value, str):
            same = name in ("key", "number", "when", "seal", "record") or len(value) < 4
            return value if same else " ".join([value] * 3)
        if isinstance(value, tuple):
            return tuple(three(each, name) for each in value)
        if is_dataclass(value) and not isinstance(value, type):
            return replace(value, **{each.name: three(getattr(value, each.name), each.name)
                                     for each in fields(value)})  # fmt: skip
        return value

    return replace(found, entries=three(found.entries), pairs=three(found.pairs),
                   gaps=three(found.gaps), rest=three(found.rest),
                   front=three(found.front), corrections=three(found.corrections))  # fmt: skip


def test_nothing_later_than_the_moment_of_printing_is_counted(
    lived: Machine, foreman: User
) -> None:
    """Printed on the 12th: the days to come are no gap, and what came later is not in it."""
    at = datetime.fromisoformat("2026-03-12T12:00:00+00:00")

    found = told(lived, foreman, last=date(2026, 12, 31), at=at)

    assert [row[:3] for row in rows(found, "gap checks")] == [("10 Mar 2026", "12 Mar 2026", "3")]
    assert found.period == "1 Feb 2026 to 12 Mar 2026"


def test_a_second_decision_on_a_stop_hides_no_day_between_its_notes(
    lived: Machine, foreman: User
) -> None:
    """The note of the 20th ended on the 27th; stopped again, a later one frees no day before it."""
    stop = Stop.objects.standing().get(machine=lived, decided_by__isnull=False)
    for day, until in ((30, None), (31, date(2026, 4, 10))):
        decide_stop(
            stop=stop, carry_on_until=until, reason="Looked at it once more",
            answer="Told you so", at=on(date(2026, 3, day), 7), by=foreman,
        )  # fmt: skip
    contents = Record.objects.filter(machine=lived).values_list("content", flat=True)
    counted = count(contents, first=FIRST, last=LAST, until=PRINTED, every_days=7)

    found = told(lived, foreman)

    assert counted.unchecked == [date(2026, 3, d) for d in (10, 11, 12, 13, 24, 25, 26, 27)]
    assert [row[:3] for row in rows(found, "gap checks")] == [
        ("10 Mar 2026", "13 Mar 2026", "4"), ("24 Mar 2026", "27 Mar 2026", "4"),
    ]  # fmt: skip


def test_the_registers_of_a_depot_that_the_reader_may_not_see_stay_there(
    lived: Machine, foreman: User, other_depot: Depot
) -> None:
    newcomer = make_user("Nia New", (other_depot, Role.FOREMAN))
    assert any(row[3] != "none" for row in rows(told(lived, foreman), "people"))
    assert rows(told(lived, foreman), "instruments")
    Machine.objects.filter(pk=lived.pk).update(depot=other_depot)

    found = told(lived, newcomer)

    assert {row[3] for row in rows(found, "people")} == {"none listed"}
    assert rows(found, "instruments") == ()
    assert "may not see" in part(found, "instruments").words[0]
    assert rows(found, "tested with")
