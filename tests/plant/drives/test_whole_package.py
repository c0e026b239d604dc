"""The package as a whole: sources, units, proof of every function, and what loading it costs."""

import ast
import importlib
import inspect
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[3]
PACKAGE = ROOT / "plant" / "drives"
MODULES = sorted(path.stem for path in PACKAGE.glob("*.py") if path.stem != "__init__")
EXAMPLES = ROOT / "fixtures" / "worked_examples"

# Function -> the test that works it out anew with a general library or by hand, where no
# published example is held. "file::test" under tests/plant/drives.
RECOMPUTED: dict[str, str] = {}


def functions() -> dict[str, Callable[..., Any]]:
    found: dict[str, Callable[..., Any]] = {}
    for stem in MODULES:
        module = importlib.import_module(f"plant.drives.{stem}")
        for name, value in vars(module).items():
            if name.startswith("_") or not inspect.isfunction(value):
                continue
            if value.__module__ == module.__name__:
                found[f"{stem}.{name}"] = value
    return found


FUNCTIONS = functions()


def test_the_package_is_not_empty() -> None:
    assert len(FUNCTIONS) > 80


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_public_function_states_units_and_source(name: str) -> None:
    words = inspect.getdoc(FUNCTIONS[name]) or ""
    sections = dict(re.findall(r"^(\w+):\n((?:[ ]{4}.*\n?|\n)+)", words + "\n", re.MULTILINE))

    for section in ("Args", "Returns", "Raises", "Source"):
        assert sections.get(section, "").strip(), f"{name} has no {section}"
    parameters = inspect.signature(FUNCTIONS[name]).parameters
    for parameter in parameters:
        if parameter.startswith("_"):
            continue
        assert re.search(rf"\b{parameter}\b", sections["Args"]), f"{name}: {parameter} is not told"
    if any(value.annotation in (float, "float") for value in parameters.values()):
        assert "[" in sections["Args"], f"{name} takes figures without units"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_two_or_more_arguments_go_by_name(name: str) -> None:
    by_place = [
        one
        for one in inspect.signature(FUNCTIONS[name]).parameters.values()
        if one.kind is one.POSITIONAL_OR_KEYWORD
    ]
    assert len(by_place) <= 2, f"{name}: {[one.name for one in by_place]}"


def test_every_public_function_is_proved() -> None:
    by_example = {
        tomllib.loads(path.read_text(encoding="utf-8"))["function"].removeprefix("plant.drives.")
        for path in EXAMPLES.glob("*.toml")
    }
    unproved = set(FUNCTIONS) - by_example - set(RECOMPUTED)
    assert not unproved, f"no worked example and no recomputation: {sorted(unproved)}"


def test_the_table_of_recomputed_functions_is_true() -> None:
    """Each entry names a function that exists and a test that exists and calls it."""
    for name, where in RECOMPUTED.items():
        assert name in FUNCTIONS, f"there is no {name}"
        file, _, test = where.partition("::")
        source = (Path(__file__).parent / file).read_text(encoding="utf-8")
        tests = {
            node.name: ast.get_source_segment(source, node) or ""
            for node in ast.walk(ast.parse(source))
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        }
        assert test in tests, f"there is no {where}"
        assert not test.startswith("test__")
        function = name.partition(".")[2]
        called = tests[test] if function in tests[test] else source
        assert re.search(rf"\b{function}\b", called), f"{where} does not use {name}"


def test_the_mathematics_load_fast_and_bring_no_framework() -> None:
    code = (
        "import sys, time\n"
        "began = time.perf_counter()\n"
        "import plant.drives.workout\n"
        "took = time.perf_counter() - began\n"
        "heavy = {name.partition('.')[0] for name in sys.modules} & "
        "{'numpy', 'scipy', 'django', 'pint', 'reportlab', 'celery'}\n"
        "print(sorted(heavy), took)\n"
    )
    answers = [
        subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout
        for _ in range(3)
    ]

    assert all(answer.startswith("[] ") for answer in answers), answers
    # The best of three: a busy machine must not decide. A second would be a slow import indeed.
    assert min(float(answer.split()[-1]) for answer in answers) < 1.0


def test_no_module_of_the_package_imports_outside_the_standard_library() -> None:
    for stem in MODULES:
        tree = ast.parse((PACKAGE / f"{stem}.py").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            for name in names:
                top = name.partition(".")[0]
                assert name.startswith("plant.drives") or top in sys.stdlib_module_names, (
                    f"{stem} imports {name}"
                )
