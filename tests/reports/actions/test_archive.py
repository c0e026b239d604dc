"""Everything taken out and brought into an empty system, compared row by row, byte by byte."""

import csv
import io
import json
import re
import threading
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings as live
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from hypothesis import given
from hypothesis import strategies as st

from addresses import World, make_world, signed_in
from elsewhere import empty_database, run
from maintenance.actions.due import rework
from maintenance.actions.job import open_job
from maintenance.actions.practice import practice_depot, practice_machine
from maintenance.actions.reference import load_reference
from maintenance.models import DueLine, Job
from make import make_depot, make_user
from plant.actions.checkpoint import sign_chains
from plant.actions.refusal import Refused
from plant.csv_out import safe_cell
from plant.models import Chore, Depot, Machine, Record, Role, User
from plant.rights import practise_in
from reports.actions.archive import bring_in, make_archive
from reports.actions.chore import ask_archive, carry_out
from reports.exports import everything
from reports.models import Sheet
from reports.tasks import chore_by_the_clock

# What names a secret, and is none: whoever adds such a column decides here or in SECRET.
NO_SECRET = {
    "maintenance.BeltFitting.mark", "maintenance.BeltLife.belt_key",
    "maintenance.BeltLook.belt_key",
    "maintenance.Check.mark", "maintenance.Inspection.mark", "maintenance.Job.belt_key",
    "maintenance.Job.cause_key", "maintenance.Job.symptom_key", "maintenance.Part.name_key",
    "maintenance.PartNumber.key", "maintenance.PlanLine.key", "maintenance.Stop.item_key",
    "plant.Chain.head_hash", "plant.Depot.code", "plant.Drive.belt_mark",
    "plant.Machine.number_key", "plant.MachineKind.key",
    "plant.Record.content_hash", "plant.Record.hash", "plant.Record.previous_hash",
    # Without them nobody could hold the words and photos against their seals.
    "plant.RecordPhoto.salt", "plant.RecordText.salt",
    # On every label; the page and the file say so.
    "plant.Machine.label_code", "plant.Machine.short_code",
    # Numbers that open nothing without the key of the site.
    "plant.Message.uid", "reports.Feed.uid", "reports.FeedEvent.uid", "reports.WeeklyNote.uid",
}  # fmt: skip


@pytest.fixture
def place(tmp_path: Path, settings: Any) -> Path:
    settings.DATA_DIR = tmp_path / "data"
    settings.MEDIA_ROOT = settings.DATA_DIR / "media"
    settings.CHECKPOINT_KEY = tmp_path / "apart.key"
    settings.DATA_DIR.mkdir()
    return tmp_path


def tables(path: Path) -> dict[str, list[dict[str, Any]]]:
    """Every table by name, JSON as what it means: one database keeps its keys in another order."""
    csv.field_size_limit(1 << 30)
    found = {}
    with zipfile.ZipFile(path) as archive:
        for model in everything.models():
            text = archive.read(everything.table_file(model)).decode("utf-8-sig")
            rows = list(csv.DictReader(io.StringIO(text, newline="")))
            told = {f.attname for f in everything.fields(model) if everything.kind(f) == "JSON"}
            found[model._meta.db_table] = [
                {k: json.loads(v) if k in told and v else v for k, v in row.items()} for row in rows
            ]
    return found


def test_what_was_taken_out_and_brought_in_is_the_same_to_the_letter(
    transactional_db: None, place: Path
) -> None:
    load_reference()
    world = make_world(code="ours", marker="quolm", at=now())
    User.objects.filter(pk=world.people[Role.FITTER].pk).update(name='-1+\'ł\r\n"Ünal"')
    Machine.objects.update(note="=1+1", nickname="'")
    worked_out = now()
    rework(Machine.objects.get(pk=world.machine.pk), at=worked_out)
    sign_chains(at=now())
    made = make_archive(place / "all.zip", at=now())
    assert made.missing == []
    with zipfile.ZipFile(made.path) as archive:
        text = b"".join(archive.read(name) for name in archive.namelist())
        assert b"argon2" not in text
        assert not {name for name in archive.namelist() if name.endswith(".key")}
    with pytest.raises(Refused, match="already"):
        bring_in(made.path, at=now())

    there = place / "there"
    with empty_database("test_brought_here") as database:
        for told in (["migrate", "-v", "0"], ["rule_sheets", "-v", "0"]):
            assert run(*told, data=there, database=database).returncode == 0
        done = run("import_all", str(made.path), data=there, database=database)
        assert done.returncode == 0, done.stderr
        assert "all as sealed" in done.stdout
        assert "Nobody has a password here" in done.stdout
        out = run("export_all", str(place / "again.zip"), data=there, database=database)
        assert out.returncode == 0, out.stderr
        verified = run("verify_chain", data=there, database=database)
        assert verified.returncode == 0, verified.stderr
    before, after = tables(made.path), tables(place / "again.zip")
    assert {name: len(rows) for name, rows in after.items()} == made.counts
    for name, rows in before.items():
        assert after[name] == rows, name
    assert before["maintenance_dueline"]  # among them the due days of each machine
    for sheet in Sheet.objects.exclude(file=""):
        kept = (there / "media" / sheet.file.name).read_bytes()
        assert kept == (live.MEDIA_ROOT / sheet.file.name).read_bytes()
    # The days there follow from what came in: worked out anew here they are the same.
    due = list(DueLine.objects.order_by("pk").values())
    rework(Machine.objects.get(pk=world.machine.pk), at=worked_out)
    assert list(DueLine.objects.order_by("pk").values()) == due
    assert {str(row["id"]) for row in before["plant_record"]} == {
        str(pk) for pk in Record.objects.values_list("pk", flat=True)
    }


def test_where_all_jobs_are_of_practice_the_firms_run_begins_at_its_beginning(
    transactional_db: None, place: Path
) -> None:
    load_reference()
    foreman = make_user("Freya", (make_depot("ours"), Role.FOREMAN))
    depot = practice_depot(person=foreman, at=now())
    practise_in(foreman, depot)
    machine = practice_machine(depot)
    open_job(machine=machine, kind=Job.Kind.FAULT, title="Odd", at=now(), by=foreman)
    made = make_archive(place / "all.zip", at=now())

    with empty_database("test_practised_here") as database:
        for told in (["migrate"], ["rule_sheets"], ["import_all", str(made.path)]):
            done = run(*told, "-v", "0", data=place / "there", database=database)
            assert done.returncode == 0, done.stderr


@given(text=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")))
def test_every_text_and_nothing_come_back_from_a_cell(text: str) -> None:
    name = next(f for f in everything.fields(User) if f.name == "name")
    key = next(
        f for f in apps.get_model("plant.Phone")._meta.concrete_fields if f.name == "key_hash"
    )
    for field, values in ((name, [text]), (key, [text, None, "", "'", "''", "'=1"])):
        for value in values:
            cell = safe_cell(everything._writer(field)(value))
            assert not cell.startswith(("=", "+", "-", "@", "\t"))
            line = io.StringIO(newline="")
            csv.writer(line, lineterminator="\r\n").writerow([cell, "end"])
            ((back, _),) = csv.reader(io.StringIO(line.getvalue(), newline=""))
            assert everything._reader(field)(back) == value


def test_the_key_tells_each_column_and_no_secret_goes_out() -> None:
    rows = list(csv.DictReader(io.StringIO(b"".join(everything.key()).decode("utf-8-sig"))))
    assert len(rows) > 700
    units = {f"{row['table']}.{row['column']}": row["unit"] for row in rows}
    assert units["plant_drive.driver_m"] == "m"
    assert units["plant_machine.power_w"] == "W"
    assert units["maintenance_widthreading.u_m"] == "m, standard uncertainty"
    # Whatever is measured has a unit.
    assert not [row for row in rows if row["kind"] == "number" and not row["unit"]]
    suspect = re.compile(r"password|secret|hash|salt|key$|code|token|mark$|uid")
    named = {
        f"{model._meta.label}.{field.name}"
        for model in everything.models()
        for field in everything.fields(model)
        if suspect.search(field.name) and everything.kind(field) in ("text", "identifier")
    }
    assert named - NO_SECRET == set(), "name it here, or in SECRET of reports/exports/everything.py"
    assert {name.partition(".")[0] for name in everything.LEFT_OUT} == {"plant"}


def test_a_damaged_file_brings_nothing_in(transactional_db: None, place: Path) -> None:
    depot = make_depot()
    made = make_archive(place / "all.zip", at=now())
    depot.delete()
    whole = bytearray(made.path.read_bytes())
    whole[len(whole) // 3] ^= 16
    (place / "hurt.zip").write_bytes(whole)
    with pytest.raises(CommandError, match="damaged"):
        call_command("import_all", str(place / "hurt.zip"))
    assert not live.MEDIA_ROOT.exists()
    done = bring_in(made.path, at=now())
    assert (done.unlike, done.counts["plant_depot"]) == ([], 1)
    assert connection.vendor in ("sqlite", "postgresql")


def test_the_page_makes_it_in_the_background_and_gives_it_whole(
    transactional_db: None, place: Path
) -> None:
    load_reference()
    ours: World = make_world(code="ours", marker="quolm", at=now())
    roles = ((depot, Role.MANAGER) for depot in Depot.objects.all())
    own = "kettle birch lantern otter"
    client: Client = signed_in(make_user(f"Everywhere {ours.marker}", *roles, password=own))
    page = reverse("reports:take_out")
    assert client.get(reverse("reports:take_out_file")).status_code == 302
    # So much at once asks for the password again.
    assert client.post(page).status_code == 422
    assert client.post(page, {"proof": own}).status_code == 302
    today, line = reverse("reports:today"), "Everything as one file"
    for more, words in (
        ({"state": "asked", "total": 0}, "being made"),
        ({"state": "working", "done": 30, "total": 120}, "30 of 120 rows and files"),
        ({"state": "failed", "why": "The disk is full."}, "failed: The disk is full."),
    ):
        Chore.objects.filter(kind="archive").update(**more)
        for address in (today, reverse("reports:prints")):
            asked = client.get(address).content.decode()
            assert (line in asked, words in asked) == (True, True), (address, words)
    Chore.objects.filter(kind="archive").update(state="asked", why="", ended_at=None)
    other = make_user("Other", *((depot, Role.MANAGER) for depot in Depot.objects.all()))
    assert line not in signed_in(other).get(today).content.decode()
    chore_by_the_clock()
    assert "ready, " in client.get(today).content.decode()
    row = Chore.objects.get(kind="archive")
    assert (row.state, row.why) == ("done", "")
    # Begun again, as after a kill, within the second or later: it is made anew, and alone.
    for moment in (row.began_at, row.began_at + timedelta(minutes=40)):
        Chore.objects.filter(pk=row.pk).update(state="asked", attempts=1, ended_at=None)
        assert carry_out(row.pk, clock=lambda moment=moment: moment)
        row = Chore.objects.get(kind="archive")
        assert list(Path(row.file).parent.iterdir()) == [Path(row.file)]
    assert "Take the file" in client.get(page).content.decode()
    answer: Any = client.get(reverse("reports:take_out_file"))
    assert b"".join(answer.streaming_content) == Path(row.file).read_bytes()
    # Who is not at every depot gets nothing of the others'.
    make_depot("beyond")
    assert client.post(page).status_code == 422
    assert client.get(reverse("reports:take_out_file")).status_code == 302
    assert "every depot" in client.get(page).content.decode()


def test_who_may_not_take_everything_is_not_told_how_far_somebody_elses_is(
    depot: Depot, other_depot: Depot, manager: User
) -> None:
    asked = {"kind": Chore.Kind.ARCHIVE, "asked_at": now(), "not_before": now()}
    Chore.objects.create(state="working", done=30, total=120, **asked)
    progress = reverse("reports:take_out_progress")
    everywhere = make_user("Everywhere", *((each, Role.MANAGER) for each in (depot, other_depot)))
    assert "30 of 120" in signed_in(everywhere).get(progress).content.decode()
    assert "120" not in signed_in(manager).get(progress).content.decode()


def test_asked_for_by_several_at_once_it_is_made_once(transactional_db: None) -> None:
    depot = make_depot()
    several = [make_user(f"Boss {n}", (depot, Role.MANAGER)) for n in range(4)]
    gate, rows = threading.Barrier(len(several)), []

    def ask(user: User) -> None:
        try:
            gate.wait(10)
            rows.append(ask_archive(by=user, at=now()).pk)
        finally:
            connection.close()

    threads = [threading.Thread(target=ask, args=[user]) for user in several]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert len(rows) == len(several)
    assert list(Chore.objects.values_list("pk", flat=True)) == [rows[0]]
