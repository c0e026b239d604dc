"""Who came in and who was turned away is kept, in lines that nobody can forge, without secrets."""

import json
import logging
import os
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from make import make_machine
from plant.logs import DayFiles, JsonLines
from plant.models import Depot, User
from plant.security_log import LONGEST, note

PASSWORD = "never to be seen again"


@pytest.fixture
def lines(tmp_path: Path):
    """The lines as they stand in the file."""
    handler = DayFiles(tmp_path / "security")
    handler.setFormatter(JsonLines())
    logger = logging.getLogger("security")
    before = logger.level
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)

    def read() -> list[dict[str, object]]:
        text = "".join(each.read_text("ascii") for each in tmp_path.glob("security/*.jsonl"))
        return [json.loads(line) for line in text.splitlines()]

    yield read
    logger.removeHandler(handler)
    logger.setLevel(before)
    handler.close()


def test_what_people_send_forges_no_line_and_fills_no_disk(lines) -> None:
    forged = '"}\n{"what": "signed in", "user": 1}\r\n\u202e\u2028' + "x" * 5000
    note("sign-in failed", typed=forged, message="m", what_="w", odd=object())

    (line,) = lines()
    assert line["what"] == "sign-in failed"
    assert str(line["typed"]).startswith('"}\n{"what"')
    assert len(str(line["typed"])) == LONGEST + 1
    assert line["message_"] == "m"
    assert datetime.fromisoformat(str(line["at"])).utcoffset() == timedelta(0)


def test_a_day_of_one_person_without_a_secret(
    depot: Depot, other_depot: Depot, operator: User, lines
) -> None:
    operator.set_password(PASSWORD)
    operator.save()
    client, door = Client(), reverse("plant:sign_in")
    theirs = make_machine(other_depot, "MX-9")
    for password in ("wrong, all of it", PASSWORD):
        client.post(door, {"sign_in": operator.sign_in, "password": password})
    client.get(reverse("maintenance:machine", args=[theirs.pk]))
    client.get(reverse("plant:import_list"))
    client.get(reverse("reports:own_data_file"))
    client.post(reverse("plant:sign_out"))

    kept = lines()
    assert [line["what"] for line in kept] == [
        "sign-in failed", "signed in", "not there", "refused", "own data taken", "file taken out",
        "signed out",
    ]  # fmt: skip
    assert all(line["address"] == "127.0.0.1" for line in kept)
    assert [line.get("user") for line in kept] == [None] + [operator.pk] * 6
    assert kept[3]["page"] == "plant:import_list"
    words = json.dumps(kept)
    assert PASSWORD not in words
    assert "wrong, all" not in words
    assert operator.name not in words


ADD_LINES = """
import logging, sys
from plant.logs import DayFiles
log = logging.getLogger("x")
log.addHandler(DayFiles(sys.argv[1]))
for n in range(500):
    log.warning("%s %s", sys.argv[2] * 300, n)
"""


def test_processes_side_by_side_and_the_end_of_old_files(tmp_path: Path) -> None:
    today = datetime.now(UTC).date()
    for days in (29, 31, 400):
        (tmp_path / f"{today - timedelta(days=days)}.jsonl").write_text("old\n")
    (tmp_path / "other.jsonl").write_text("not ours\n")
    run = [sys.executable, "-c", ADD_LINES, str(tmp_path)]
    processes = [subprocess.Popen([*run, each]) for each in "abc"]
    assert [each.wait(timeout=60) for each in processes] == [0, 0, 0]

    (file,) = tmp_path.glob(f"{today}.jsonl")
    got = sorted(file.read_text().splitlines())
    assert got == sorted(f"{who * 300} {n}" for who in "abc" for n in range(500))
    assert stat.S_IMODE(os.stat(file).st_mode) == 0o600
    left = {each.stem for each in tmp_path.iterdir()}
    assert left == {str(today), str(today - timedelta(days=29)), "other"}


def test_a_flood_stops_at_the_size_of_a_day(tmp_path: Path) -> None:
    handler = DayFiles(tmp_path, most_bytes=1000)
    for _ in range(100):
        handler.emit(logging.makeLogRecord({"msg": "x" * 99}))
    handler.close()
    (file,) = tmp_path.iterdir()
    assert file.stat().st_size == 1000


@pytest.mark.parametrize(("status", "traced"), [(403, False), (400, False), (500, True)])
def test_what_was_turned_away_is_one_line_and_what_failed_has_its_trace(
    status: int, traced: bool
) -> None:
    try:
        raise PermissionError("not for this role")
    except PermissionError as error:
        told = (type(error), error, error.__traceback__)
    record = logging.makeLogRecord({"msg": "Forbidden", "exc_info": told, "status_code": status})

    line = json.loads(JsonLines().format(record))

    assert ("trace" in line) is traced
