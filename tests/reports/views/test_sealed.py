"""A stranger asks whether a paper of ours is as it was sealed."""

import hashlib
import io
import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader, PdfWriter

from addresses import World
from plant import seals
from plant.models import Record
from reports.actions.sheet import draw
from reports.models import Batch, Sheet


@pytest.fixture
def sheet(ours: World) -> Sheet:
    assert ours.sheet.state == Sheet.State.DONE
    return ours.sheet


def asked(**given: object) -> tuple[int, str]:
    answer = Client().post(reverse("reports:sealed"), given)
    return answer.status_code, re.sub(r"\s+", " ", answer.content.decode())


def test_the_figures_at_the_foot_of_a_paper_are_enough(sheet: Sheet) -> None:
    record = sheet.record
    assert record is not None
    fours = " ".join(re.findall("....", record.hash[:16])).upper()
    status, page = asked(number=record.number.lower(), digits=fours)
    assert status == 200
    assert (
        f"<strong>Yes.</strong> Record {record.number} is as it was sealed. It was sealed" in page
    )


@pytest.mark.parametrize(
    ("number", "digits"),
    [("OURS-999999", "a" * 16), ("OURS-1", "a" * 16), ("' or 1=1", "a" * 16), ("OURS-1", "%" * 16)],
)
def test_a_wrong_hash_and_a_made_up_number_are_answered_alike(
    sheet: Sheet, number: str, digits: str
) -> None:
    status, page = asked(number=number, digits=digits)
    assert status == 422
    assert "<strong>Unknown.</strong> No sealed record has this number and this hash." in page


def test_fewer_figures_than_stand_on_paper_are_not_enough(sheet: Sheet) -> None:
    assert sheet.record is not None
    _, page = asked(number=sheet.record.number, digits=sheet.record.hash[:15])
    assert "<strong>Unknown.</strong>" in page


def test_a_record_changed_behind_our_back_is_said_to_be_changed(sheet: Sheet) -> None:
    record = sheet.record
    assert record is not None
    seals.lift(connection)
    Record.objects.filter(pk=record.pk).update(role="foreman")
    _, page = asked(number=record.number, digits=record.hash[:16])
    assert "<strong>No.</strong>" in page
    assert "the column role is not what was sealed" in page


def test_the_file_itself_is_known_to_the_byte_and_shows_nothing_more(
    sheet: Sheet, ours: World
) -> None:
    data = draw(sheet, sheet.content)
    status, page = asked(file=SimpleUploadedFile("sheet.pdf", data))
    assert status == 200
    assert "<strong>Yes.</strong> This file is to the byte as it was printed" in page
    assert ours.machine.number not in page
    assert ours.marker not in page
    _, page = asked(file=SimpleUploadedFile("sheet.pdf", data + b"\n"))
    assert "<strong>Unknown.</strong> This file is not known here" in page


def test_who_asks_without_end_is_held_back(sheet: Sheet) -> None:
    statuses = [asked(number="OURS-1", digits="a" * 16)[0] for _ in range(61)]
    assert statuses[:60] == [422] * 60
    assert statuses[60] == 422


def test_a_page_cut_out_of_a_file_is_found_by_the_number_at_its_foot(sheet: Sheet) -> None:
    page = PdfReader(io.BytesIO(draw(sheet, sheet.content))).pages[0]
    cut = io.BytesIO()
    writer = PdfWriter()
    writer.add_page(page)
    writer.write(cut)
    status, told = asked(file=SimpleUploadedFile("page.pdf", cut.getvalue()))
    assert (status, "<strong>Unknown.</strong>" in told) == (422, True)
    assert "type the number and hash at its foot" in told

    foot = re.search(r"record (\S+), hash ([0-9a-f ]{19})", page.extract_text())
    assert foot is not None
    assert asked(number=foot[1], digits=foot[2])[0] == 200


def test_a_sheet_whose_content_was_changed_behind_our_back_is_said_to_be_changed(
    sheet: Sheet,
) -> None:
    data = draw(sheet, sheet.content)
    Sheet.objects.filter(pk=sheet.pk).update(content={})
    _, page = asked(file=SimpleUploadedFile("sheet.pdf", data))
    assert "<strong>No.</strong> This file was printed here, but record" in page
    assert "the content of its sheet is not what was sealed" in page


def test_a_made_up_file_put_into_the_rows_is_not_as_it_was_sealed(sheet: Sheet) -> None:
    forged = b"%PDF-1.4 another"
    digest = hashlib.sha256(forged).hexdigest()
    batch = Batch.objects.filter(pk=sheet.batch_id)
    for row in (Sheet.objects.filter(pk=sheet.pk), batch):
        was = row.values_list("sha256", flat=True)[0]
        row.update(sha256=digest, file_record=sheet.file_record)
        status, page = asked(file=SimpleUploadedFile("sheet.pdf", forged))
        assert (status, "<strong>No.</strong>" in page) == (200, True)
        assert "the hash of its file is not what was sealed" in page
        row.update(sha256=was)


def test_the_command_says_the_same_with_its_exit_code(sheet: Sheet, tmp_path: Path) -> None:
    record = sheet.record
    assert record is not None
    file = tmp_path / "sheet.pdf"
    file.write_bytes(draw(sheet, sheet.content))
    out = io.StringIO()
    call_command("check_sheet", str(file), stdout=out)
    call_command("check_sheet", record.number, record.hash[:8], record.hash[8:16], stdout=out)
    assert [line.split(". ")[-1][:16] for line in out.getvalue().splitlines()] == [
        "It was sealed on"
    ] * 2
    file.write_bytes(b"%PDF-1.4 another")
    seals.lift(connection)
    for paper, code in (
        ((str(file),), 3), ((record.number, "0" * 16), 3), (("none.pdf",), 2)
    ):  # fmt: skip
        with pytest.raises(CommandError) as refused:
            call_command("check_sheet", *paper)
        assert refused.value.returncode == code
    Record.objects.filter(pk=record.pk).update(role="foreman")
    with pytest.raises(CommandError, match="the column role is not what was sealed") as refused:
        call_command("check_sheet", record.number, record.hash[:16])
    assert refused.value.returncode == 1
