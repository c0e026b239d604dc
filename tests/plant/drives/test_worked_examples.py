"""Published worked examples, each from its own file, worked out by the function it names."""

import importlib
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from plant.drives.facts import Trust
from plant.drives.sections import System

FOLDER = Path(__file__).parents[3] / "fixtures" / "worked_examples"
EXAMPLES = sorted(FOLDER.glob("*.toml"))
NEEDED = {
    "title", "source", "trust", "function", "tolerance", "tolerance_reason", "expected", "printed",
    "result", "inputs",
}  # fmt: skip
OPTIONAL = {"relative", "place"}


def load(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def part(found: Any, result: str) -> Any:
    """Follows "a.b[0].c" into what the function returned."""
    for name, index in re.findall(r"\.?([A-Za-z_]\w*)|\[(\d+)\]", result):
        found = getattr(found, name) if name else found[int(index)]
    return found


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 15


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_example_comes_out_as_printed(path: Path) -> None:
    example = load(path)
    module, _, name = example["function"].rpartition(".")
    function = getattr(importlib.import_module(module), name)
    inputs = {
        key: System(value) if key == "system" and value in list(System) else value
        for key, value in example["inputs"].items()
    }

    got = part(function(**inputs), example["result"])

    expected, tolerance = example["expected"], example["tolerance"]
    if isinstance(expected, int | float) and not isinstance(expected, bool):
        if example.get("relative", False):
            tolerance *= abs(expected)
        assert abs(got - expected) <= tolerance, f"{got} is not {expected} within {tolerance}"
    else:
        assert got == expected


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_example_says_where_it_comes_from(path: Path) -> None:
    example = load(path)

    assert set(example) - OPTIONAL == NEEDED
    assert example["trust"] in list(Trust)
    assert example["function"].startswith("plant.drives.")
    assert len(example["source"]) > 10
    assert example["tolerance_reason"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_tolerance_is_no_wider_than_a_tenth(path: Path) -> None:
    """A tolerance as wide as the answer would let any sum pass."""
    example = load(path)
    expected = example["expected"]
    if isinstance(expected, int | float) and expected:
        share = (
            example["tolerance"]
            if example.get("relative")
            else (example["tolerance"] / abs(expected))
        )
        assert share <= 0.1
