"""What is installed by pyproject.toml alone is enough to run web, worker and timer.

Tests run beside tools that bring packages of their own; where the program leans on one of those, a
clean installation falls over and no other test tells.
"""

import os
import shutil
import subprocess
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, packages_distributions, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
# Run in a process in which every module of other distributions is as if it were not installed.
STARTS = """
import sys
class Away:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in AWAY:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
sys.meta_path.insert(0, Away())
import plant.config.wsgi
from plant.config import celery_app
celery_app.connection().transport
import celery.apps.beat, celery.apps.worker, celery.bin.celery, celery.concurrency.prefork
import granian.cli
import maintenance.tasks, plant.tasks, plant.urls, reports.tasks
from django.db import connection
"""


def name_of(distribution: str) -> str:
    return distribution.lower().replace("_", "-").replace(".", "-")


def asked_for() -> set[str]:
    """The distributions that an installation with PostgreSQL brings, with all that they ask for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    lines = [*project["dependencies"], *project["optional-dependencies"]["postgres"]]
    waiting, seen = [Requirement(line) for line in lines], set()
    while waiting:
        wanted = waiting.pop()
        key = (name_of(wanted.name), frozenset(wanted.extras))
        if key in seen:
            continue
        seen.add(key)
        try:
            more = [Requirement(line) for line in requires(wanted.name) or []]
        except PackageNotFoundError:
            continue  # for another system or an older Python
        for each in more:
            extras = ("", *wanted.extras)
            if each.marker is None or any(each.marker.evaluate({"extra": x}) for x in extras):
                waiting.append(each)
    return {name for name, _ in seen} | {"siteplant"}


@pytest.mark.parametrize(
    "broker", ["redis://127.0.0.1:1/0", "filesystem://"], ids=["redis", "files"]
)
def test_web_worker_and_timer_start_with_nothing_but_what_is_asked_for(
    broker: str, tmp_path: Path
) -> None:
    ours = asked_for()
    assert {"django", "kombu", "asgiref"} <= ours
    away = {
        module
        for module, owners in packages_distributions().items()
        if not any(name_of(each) in ours for each in owners)
    }
    assert "pytest" in away  # what tests bring along is out of reach
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "plant.config.settings", "DATA_DIR": str(tmp_path),
        "DATABASE_URL": "postgresql://nobody@127.0.0.1:1/none", "BROKER_URL": broker,
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", f"AWAY = {sorted(away)!r}\n{STARTS}"],
        cwd=ROOT, env=environment, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]


def test_an_install_that_is_no_link_to_the_tree_brings_all_that_is_read(tmp_path: Path) -> None:
    tree, built = tmp_path / "tree", tmp_path / "built"
    tree.mkdir()
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, tree)
    read = ("plant", "maintenance", "reports", "fixtures/demo", "fixtures/reference")
    for name in read:
        shutil.copytree(ROOT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
    build = "from setuptools import setup; setup()"
    done = subprocess.run(
        [sys.executable, "-c", build, "-q", "build_py", "--build-lib", str(built)],
        cwd=tree, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]

    def files(top: Path) -> set[Path]:
        found = (each for name in read for each in (top / name).rglob("*") if each.is_file())
        return {each.relative_to(top) for each in found}

    assert files(tree) - files(built) == set()
