"""The command that works out a drive from a file."""

import io
import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

EXAMPLE = Path(__file__).parents[4] / "fixtures" / "demo" / "drive_example.json"


def run(*args: str) -> str:
    out = io.StringIO()
    call_command("drive", *args, stdout=out)
    return out.getvalue()


def test_the_example_is_worked_out_in_words() -> None:
    text = run(str(EXAMPLE))

    assert text.startswith("Verdict: ")
    assert "Before you start" in text


def test_the_example_is_worked_out_as_json() -> None:
    found = json.loads(run(str(EXAMPLE), "--json"))

    assert found["given"]["typed"]["driver"] == "80 mm"
    assert found["wear"]["take_up"]["left"]["value"] == 0.006


def test_standard_input_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO('{"driver": "80 mm", "driven": "180 mm"}'))

    assert "2.250" in run("-")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"driver": "80 kg"}', "driver: Enter a number"),
        ('{"driver": "8 m", "driven": "9 m"}', "cannot be worked out: .* accepted"),
        ("no", "not JSON"),
        ('{"driver": "80 mm", "driver": "90 mm"}', "twice"),
    ],
)
def test_errors_say_what_is_wrong(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "drive.json"
    file.write_text(text, encoding="utf-8")

    with pytest.raises(CommandError, match=said):
        run(str(file))


def test_a_file_that_is_not_there_or_not_text_is_said(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read"):
        run(str(tmp_path / "none.json"))
    (tmp_path / "odd.json").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(CommandError, match="not UTF-8"):
        run(str(tmp_path / "odd.json"))
