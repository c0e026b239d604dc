"""The drive on a sheet: the same figures as the work-out, the last readings, room to write."""

import io
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from maintenance.actions.reading import record_tension, record_width
from maintenance.contents.drive import drive_now
from maintenance.models import BeltLife
from make import MONDAY, make_drive
from plant import units
from plant.contents.drive import FIELDS, belt_key
from plant.contents.workout import told
from plant.models import Drive, Machine, User
from plant.units import FORCE, WIDTH
from reports.contents.drive_block import blocks_of
from reports.contents.service_sheet import service_sheet
from reports.pdf.service_sheet import render

LATER = MONDAY + timedelta(days=7)


@pytest.fixture
def drive(machine: Machine, fitter: User) -> Drive:
    """Belt examples V14 and V24, measured but for one groove depth, worn to 10.4 mm."""
    entries = {
        name: {"typed": "", "mark": "measured", "tool": ""}
        for name in FIELDS
        if name not in ("belt_new_width_m", "driven_depth_m")
    }
    made: Drive = make_drive(machine, entries=entries)
    record_width(
        drive=made, widths=[units.read("10.4", WIDTH)], tool="calliper", at=MONDAY, by=fitter
    )
    record_tension(
        drive=made, method="force", figure=units.read("8 N", FORCE),  # type: ignore[arg-type]
        tool="spring gauge", at=MONDAY, by=fitter,
    )  # fmt: skip
    return made


def read_back(machine: Machine) -> tuple[str, int]:
    """The words of the printed sheet with single spaces, and how many pages it has."""
    sheet = service_sheet(machine, at=LATER, by="Finn Fitter", sheet_number="4471")
    reader = PdfReader(io.BytesIO(render(sheet)))
    words = " ".join(page.extract_text() for page in reader.pages)
    return " ".join(words.split()), len(reader.pages)


def test_the_block_has_the_figures_of_the_work_out(drive: Drive) -> None:
    (block,) = blocks_of(drive.machine, at=LATER)

    workout = drive_now(drive, at=LATER).workout
    assert workout is not None
    said = told(workout)
    assert block.verdict == said.verdict == "Change the belt now."
    shown = {each.name: each.value for each in block.results}
    assert shown["drop, motor pulley"].startswith("4.25 ±")
    assert shown["drop, driven pulley"].startswith("3.78 ±")
    assert shown["take-up that the wear uses"].startswith("12.93 ±")
    for each in said.results:
        assert shown.get(each.name, each.figure) == each.figure
    assert set(block.lines) <= set(said.lines)
    assert (block.grooves[0].drop_now, block.layout.small if block.layout else None) == (
        said.grooves[0].drop_now, 0.08,
    )  # fmt: skip


def test_marks_and_last_readings_stand_beside_the_boxes(drive: Drive) -> None:
    (block,) = blocks_of(drive.machine, at=LATER)

    marks = {each.symbol: each.certainty for each in block.inputs}
    assert (marks["h1"], marks["h2"]) == ("measured", "guess")
    lasts = {blank.label: blank.last for blank in block.blanks}
    assert lasts["top width"] == "last 10.4 mm ± 0.1 mm, calliper, 2 Mar 2026"
    assert lasts["slot: room left outwards"] == "last 14.0 mm"
    force = next(last for label, last in lasts.items() if label.startswith("force at mid-span"))
    assert force.endswith("N tension, spring gauge, 2 Mar 2026")
    assert all(not blank.value for blank in block.blanks)


def test_a_drive_not_measured_yet_says_so(machine: Machine) -> None:
    make_drive(machine)

    (block,) = blocks_of(machine, at=LATER)

    assert block.last == "This belt was not measured yet."
    assert block.blanks[0].last == "not measured yet"


def test_every_belt_drive_has_its_block_and_gears_have_none(machine: Machine) -> None:
    make_drive(machine)
    Drive.objects.create(machine=machine, stage=2, kind="gear", teeth_in=12, teeth_out=96)
    make_drive(machine, stage=3, name="Pump drive")

    assert [block.title for block in blocks_of(machine, at=LATER)] == [
        "Belt drive: Drum drive", "Belt drive: Pump drive",
    ]  # fmt: skip


def test_figures_that_contradict_one_another_print_as_words(machine: Machine) -> None:
    make_drive(machine, centres_m=0.09)

    words, _ = read_back(machine)

    assert "The figures kept for this drive contradict one another." in words
    assert "top width" in words


def test_the_printed_sheet_reads_back_with_the_same_figures(drive: Drive) -> None:
    words, pages = read_back(drive.machine)

    assert pages <= 2
    (block,) = blocks_of(drive.machine, at=LATER)
    assert "Change the belt now." in words
    for each in block.results:
        assert each.value in words
    for item in block.inputs:
        assert item.value in words
    for line in block.lines:
        assert line.result in words
    assert "guess" in words
    assert "last 10.4 mm ± 0.1 mm" in words
    assert f"version {block.sums_version} of the sums" in words


def test_the_needed_lines_are_some_of_all(drive: Drive) -> None:
    (block,) = blocks_of(drive.machine, at=LATER)

    symbols = {line.symbol for line in block.lines}
    assert symbols & set(block.needed) < symbols
    assert {"y1", "r1", "x", "F"} <= symbols & set(block.needed)


def test_paper_and_page_say_the_same_of_when_the_belt_ends(drive: Drive, fitter: User) -> None:
    day = MONDAY.date()
    BeltLife.objects.update_or_create(
        drive=drive,
        defaults={
            "belt_key": belt_key(drive), "state": "dated", "ends_by": "take-up", "lead_days": 14,
            "order_by_on": day, "early_on": day, "likely_on": day, "late_on": None,
            "worked_out_at": MONDAY,
        },
    )  # fmt: skip
    client = Client()
    client.force_login(fitter)

    (block,) = blocks_of(drive.machine, at=LATER)
    page = client.get(reverse("maintenance:drive", args=[drive.pk])).content.decode()
    said = next(words for words in block.because if words.startswith("Order the next belt"))
    assert "2 Mar 2026 (2 Mar 2026 to no end)" in said
    assert said in page
