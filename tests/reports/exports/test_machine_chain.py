"""A stranger checks the records of one machine with a file and a script of his own."""

import json
import runpy
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from make import MONDAY, make_machine
from plant.actions.checkpoint import sign_chains
from plant.actions.record import seal
from plant.models import Depot, Machine, Record, RecordText, User

SCRIPT = Path(__file__).parent.parent.parent / "check_records.py"
check = runpy.run_path(str(SCRIPT))["check"]
Line = dict[str, Any]


@pytest.fixture(autouse=True)
def _kept_here(settings, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path
    settings.CHECKPOINT_KEY = tmp_path / "checkpoint.key"


def fact(depot: Depot, machine: Machine | None, by: User, note: str) -> Record:
    with transaction.atomic():
        return seal(
            kind=Record.Kind.FAULT, depot=depot, machine=machine, by=by, role="fitter",
            data={"item": "guard"}, happened_at=MONDAY, received_at=MONDAY,
            texts={"told": note},
        )  # fmt: skip


@pytest.fixture
def lines(depot: Depot, machine: Machine, fitter: User, manager: User) -> list[Line]:
    """The file of one machine whose records are 2, 4, 6 and 7 of 8; text 4 was erased by law."""
    other = make_machine(depot, "MX-999")
    for seq in range(1, 9):
        whose = machine if seq in (2, 4, 6, 7) else other if seq != 8 else None
        fact(depot, whose, fitter, f"Café wall {seq}" if whose == machine else "Of the other")
        if seq == 5:
            sign_chains(at=MONDAY)
    sign_chains(at=MONDAY + timedelta(days=1))
    RecordText.objects.filter(record__seq=4, name="told").update(text="", salt="", erased_at=MONDAY)
    return [json.loads(line) for line in body_of(manager, machine).decode().splitlines()]


def body_of(user: User, machine: Machine) -> bytes:
    client = Client()
    client.force_login(user)
    answer = client.get(reverse("reports:machine_records", args=[machine.pk]))
    assert answer.status_code == 200
    assert answer["Content-Disposition"] == 'attachment; filename="records-MX-203.jsonl"'
    return answer.getvalue()


def kept(tmp_path: Path, lines: list[Line]) -> Path:
    path = tmp_path / "records.jsonl"
    path.write_text("".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines))
    return path


def refused(tmp_path: Path, lines: list[Line]) -> str:
    with pytest.raises(SystemExit) as stopped:
        check(str(kept(tmp_path, lines)))
    return str(stopped.value.code)


def at(lines: list[Line], seq: int) -> int:
    return next(n for n, line in enumerate(lines) if line.get("seq") == str(seq))


def test_the_file_holds_its_records_whole_and_of_the_others_hashes_alone(
    lines: list[Line], other_depot: Depot
) -> None:
    assert [line["seq"] for line in lines if "content" in line] == ["2", "4", "6", "7"]
    assert lines[at(lines, 2)]["texts"]["told"]["text"] == "Café wall 2"
    assert set(lines[at(lines, 4)]["texts"]["told"]) == {"erased_at"}
    for seq in (1, 3, 5, 8):
        assert set(lines[at(lines, seq)]) == {"line", "depot", "seq", "hash", "content_hash"}
    assert "MX-999" not in str(lines)
    assert "Of the other" not in str(lines)
    assert [line["line"] for line in lines[-3:]] == ["record", "checkpoint", "checkpoint"]


def test_a_script_that_knows_nothing_of_us_finds_it_as_sealed(
    lines: list[Line], tmp_path: Path
) -> None:
    key = lines[-1]["key"]
    run = subprocess.run(
        [sys.executable, "-I", SCRIPT, kept(tmp_path, lines), key], capture_output=True, text=True
    )
    assert (run.returncode, run.stdout, run.stderr) == (
        0, "AS SEALED: 4 records of MX-203, 2 checkpoints\n", ""
    )  # fmt: skip


def _changed(lines: list[Line]) -> None:
    one = lines[at(lines, 6)]
    one["content"] = one["content"].replace("guard", "guarb")


def _swapped(lines: list[Line]) -> None:
    first, second = at(lines, 3), at(lines, 4)
    lines[first], lines[second] = lines[second], lines[first]


TAMPERS: dict[str, tuple[Callable[[list[Line]], None], str]] = {
    "one byte changed": (_changed, "north 6 is changed"),
    "one dropped": (lambda lines: lines.pop(at(lines, 3)) and None, "north 3 is missing"),
    "two swapped": (_swapped, "north 3 is missing or out of order"),
    "the last cut off": (lambda lines: lines.pop(at(lines, 8)) and None, "north 8 is missing"),
}


@pytest.mark.parametrize("what", TAMPERS)
def test_the_script_names_the_record_that_is_wrong(
    lines: list[Line], tmp_path: Path, what: str
) -> None:
    act, words = TAMPERS[what]
    act(lines)
    run = subprocess.run(
        [sys.executable, "-I", SCRIPT, kept(tmp_path, lines)], capture_output=True, text=True
    )
    assert run.returncode == 1
    assert words in run.stderr


def _other(value: str) -> str:
    """The text with its middle character changed."""
    middle = len(value) // 2
    return value[:middle] + ("1" if value[middle] != "1" else "2") + value[middle + 1 :]


def test_a_change_of_one_character_anywhere_in_a_record_or_checkpoint_is_refused(
    lines: list[Line], tmp_path: Path
) -> None:
    for number, line in enumerate(lines):
        for name in ("seq", "hash", "content_hash", "content", "signature", "checkpoint", "key"):
            if name in line:
                told = refused(
                    tmp_path,
                    [*lines[:number], {**line, name: _other(line[name])}, *lines[number + 1 :]],
                )
                assert "seq" not in line or told.startswith(f"NOT AS SEALED: north {line['seq']}")
    head = lines[0]
    for name in ("hash", "count", "depot"):
        (stands,) = head["chains"]
        refused(tmp_path, [head | {"chains": [stands | {name: _other(stands[name])}]}, *lines[1:]])
    renumbered = head | {"machine": head["machine"] | {"number": "MX-999"}}
    refused(tmp_path, [head | {"machine": head["machine"] | {"id": "0"}}, *lines[1:]])
    assert "records of MX-203," in check(str(kept(tmp_path, [renumbered, *lines[1:]])))
    text = lines[at(lines, 2)]["texts"]["told"]
    text["text"] = "Cafe wall 2"
    assert refused(tmp_path, lines) == "NOT AS SEALED: north 2: its text told"


def test_a_chain_written_anew_with_hashes_that_fit_is_refused_by_its_checkpoint(
    lines: list[Line], tmp_path: Path
) -> None:
    import hashlib

    def sha(data: bytes) -> str:
        return hashlib.sha256(data).hexdigest()

    previous = lines[at(lines, 1)]["hash"]
    for seq in range(2, 9):
        line = lines[at(lines, seq)]
        if "content" in line:
            line["content"] = line["content"].replace("guard", "cable")
        digest = sha(line["content"].encode()) if "content" in line else line["content_hash"]
        line["hash"] = previous = sha(b"\0" + bytes.fromhex(previous + digest))
    lines[0]["chains"][0]["hash"] = previous
    assert refused(tmp_path, lines) == "NOT AS SEALED: north 5, or before: not as signed"
    key, short = lines[-1]["key"], str(kept(tmp_path, lines[:-2]))
    assert check(short).endswith("0 checkpoints"), "why they are needed"
    with pytest.raises(SystemExit, match="no checkpoint is in the file"):
        check(short, key)


def test_another_key_than_the_one_that_is_trusted_is_refused(
    lines: list[Line], tmp_path: Path
) -> None:
    with pytest.raises(SystemExit, match="signed with another key"):
        check(str(kept(tmp_path, lines)), "0" * 64)


def test_the_file_of_a_machine_that_came_from_another_depot_holds_both_chains(
    machine: Machine, depot: Depot, other_depot: Depot, fitter: User, manager: User, tmp_path: Path
) -> None:
    fact(other_depot, machine, fitter, "Seen there")
    fact(depot, machine, fitter, "Seen here")
    path = tmp_path / "records.jsonl"
    path.write_bytes(body_of(manager, machine))
    assert check(str(path)) == "AS SEALED: 2 records of MX-203, 0 checkpoints"


def test_only_who_sends_lists_out_takes_the_file(
    machine: Machine, foreman: User, outsider: User, manager: User
) -> None:
    for user, status in ((foreman, 403), (outsider, 404), (manager, 200)):
        client = Client()
        client.force_login(user)
        page = client.get(reverse("maintenance:machine", args=[machine.pk]))
        assert (b"Sealed records as a file" in page.content) == (status == 200)
        answer = client.get(reverse("reports:machine_records", args=[machine.pk]))
        assert answer.status_code == status
