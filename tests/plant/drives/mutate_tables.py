"""Changes one constant of a module's tables at a time and tells whether a test notices.

    python tests/plant/drives/mutate_tables.py --module sections --sample 60 --seed 5

Constants outside functions cannot be switched while a test runs, so the module is written anew into
a copy of the package in a temporary folder, and its tests run there in a process of their own.
"""

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[3]
SWAPPED: dict[type[ast.cmpop], ast.cmpop] = {
    ast.Lt: ast.LtE(),
    ast.LtE: ast.Lt(),
    ast.Gt: ast.GtE(),
    ast.GtE: ast.Gt(),
    ast.Eq: ast.NotEq(),
    ast.NotEq: ast.Eq(),
}
SIGNS: dict[type[ast.operator], ast.operator] = {
    ast.Add: ast.Sub(),
    ast.Sub: ast.Add(),
    ast.Mult: ast.Div(),
    ast.Div: ast.Mult(),
}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: the node's index in the walk over the module, what it becomes, and its line."""

    index: int
    kind: str
    line: int
    words: str


def mutants_of(source: str) -> Iterator[Mutant]:
    """Numbers of tables and of what builds them up and down by 1 %; signs, comparisons turned."""
    tree = ast.parse(source)
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    outside = [node for node in tree.body if not isinstance(node, ast.FunctionDef)]
    # Functions called while the module loads build its tables, with numbers of their own.
    build = {
        node.func.id
        for part in outside
        for node in ast.walk(part)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    inside = {
        id(node)
        for function in functions
        if function.name not in build
        for node in ast.walk(function)
    }
    for index, node in enumerate(ast.walk(tree)):
        table = id(node) not in inside
        if isinstance(node, ast.Constant) and type(node.value) in (int, float) and table:
            for kind in ("up", "down"):
                yield Mutant(index, kind, node.lineno, f"{node.value} {kind}")
        elif isinstance(node, ast.BinOp) and type(node.op) in SIGNS:
            yield Mutant(index, "sign", node.lineno, ast.unparse(node)[:60])
        elif isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPPED:
            yield Mutant(index, "comparison", node.lineno, ast.unparse(node)[:60])
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            yield Mutant(index, "minus", node.lineno, ast.unparse(node)[:60])


def changed(source: str, mutant: Mutant) -> str:
    """The module with one mutant in it."""
    tree = ast.parse(source)
    node = next(node for at, node in enumerate(ast.walk(tree)) if at == mutant.index)
    if isinstance(node, ast.Constant):
        assert isinstance(node.value, int | float)
        step = 1.01 if mutant.kind == "up" else 0.99
        if node.value == 0:
            node.value = 0.01 if mutant.kind == "up" else -0.01
        elif isinstance(node.value, int) and abs(node.value) < 50:
            # a count or an index: one more or less
            node.value += 1 if mutant.kind == "up" else -1
        elif isinstance(node.value, int):
            node.value = round(node.value * step)
        else:
            node.value *= step
    elif isinstance(node, ast.BinOp):
        node.op = SIGNS[type(node.op)]
    elif isinstance(node, ast.Compare):
        node.ops[0] = SWAPPED[type(node.ops[0])]
    elif isinstance(node, ast.UnaryOp):
        node.op = ast.UAdd()
    return ast.unparse(tree)


def survives(folder: Path, module: str, text: str, tests: list[str]) -> bool:
    """Whether all of the test files, asked one after the other, pass on the changed module."""
    return all(_passes(folder, module, text, test) for test in tests)


def _passes(folder: Path, module: str, text: str, test: str) -> bool:
    place = folder / "plant" / "drives" / f"{module}.py"
    place.write_text(text, encoding="utf-8")
    command = [sys.executable, "-B", "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider"]
    command += ["-k", "not answered_at_once", test]
    try:
        done = subprocess.run(
            command,
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(folder)},
            capture_output=True,
            timeout=180,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return False
    if done.returncode not in (0, 1, 2):  # 2: the changed module cannot even be loaded
        raise SystemExit(done.stdout.decode()[-2000:])
    return done.returncode == 0


def main() -> None:
    """Runs a sample and prints what survived."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--module", required=True, help="such as sections")
    asked.add_argument("--sample", type=int, default=60)
    asked.add_argument("--seed", type=int, default=5)
    asked.add_argument("--tests", nargs="*", help="default: test_tables.py and the module's own")
    given = asked.parse_args()
    source = (ROOT / "plant" / "drives" / f"{given.module}.py").read_text(encoding="utf-8")
    names = given.tests or ["test_tables.py", f"test_{given.module}.py"]
    tests = [f"tests/plant/drives/{name}" for name in names]
    every = list(mutants_of(source))
    sample = random.Random(given.seed).sample(every, min(given.sample, len(every)))
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for part in ("plant", "maintenance", "reports", "tests", "fixtures"):
            shutil.copytree(
                ROOT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__", "static")
            )
        for part in ("pyproject.toml", "manage.py"):
            shutil.copy(ROOT / part, folder / part)
        if not survives(folder, given.module, source, tests):
            raise SystemExit("the tests fail on the unchanged module")
        left = [
            mutant
            for mutant in sample
            if survives(folder, given.module, changed(source, mutant), tests)
        ]
    for mutant in left:
        print(f"survived: {given.module}.py:{mutant.line} {mutant.kind}: {mutant.words}")
    print(
        f"{given.module}: {len(sample)} of {len(every)} changes, {len(sample) - len(left)} killed, "
        f"{len(left)} survived (seed {given.seed})"
    )


if __name__ == "__main__":
    main()
