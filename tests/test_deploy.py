"""The files for a larger installation: they parse, and all that they name is there."""

import configparser
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml
from celery.bin.celery import celery as celery_program
from django.core.management import get_commands
from granian.cli import cli as granian_program

ROOT = Path(__file__).parents[1]
DEPLOY = ROOT / "fixtures" / "deploy"
UNITS = sorted(DEPLOY.glob("*.service")) + sorted(DEPLOY.glob("*.target"))
SETTINGS = set(
    re.findall(
        r'env\.(?:text|flag|number)\(\s*"(\w+)"', (ROOT / "plant/config/settings.py").read_text()
    )
)
COMPOSE: Any = yaml.safe_load((DEPLOY / "compose.yaml").read_text())


def commands() -> list[list[str]]:
    """Every command line of units, container and compose, from its program's name on."""
    lines = [
        shlex.split(line.partition("=")[2])
        for unit in UNITS
        for line in unit.read_text().splitlines()
        if line.startswith("ExecStart=")
    ]
    container = (DEPLOY / "Containerfile").read_text()
    lines += [yaml.safe_load(found) for found in re.findall(r"^CMD (.*)$", container, re.M)]
    ours = [one for one in COMPOSE["services"].values() if "build" in one]
    lines += [one["command"] for one in ours if "command" in one]
    return [[Path(line[0]).name, *line[1:]] for line in lines]


def test_every_command_and_each_of_its_options_exists() -> None:
    seen = set()
    for program, *told in commands():
        if program == "python":
            assert told[0] == "manage.py"
            assert told[1] in get_commands()
            seen.add(told[1])
            continue
        options = {each.partition("=")[0] for each in told if each.startswith("-")}
        if program == "granian":
            known = {
                name for one in granian_program.params for name in (*one.opts, *one.secondary_opts)
            }
            assert told[-1] == "plant.config.wsgi:application"
        else:
            assert (program, told[:2]) == ("celery", ["-A", "plant.config"])
            part = celery_program.commands[told[2]]
            known = {"-A"} | {
                name for one in part.params for name in (*one.opts, *one.secondary_opts)
            }
            seen.add(told[2])
        assert options <= known, (program, options - known)
    assert seen == {"bring_up_to_date", "worker", "beat"}


def test_every_variable_is_read_by_the_settings_and_told_in_the_page_for_contributors() -> None:
    named = set(re.findall(r"^(\w+)=", (DEPLOY / "siteplant.env").read_text(), re.M))
    named |= set(COMPOSE["x-site"]["environment"])
    named |= set(re.findall(r"(\w+)=/", (DEPLOY / "Containerfile").read_text()))
    assert named - SETTINGS == set()
    told = (ROOT / "DEVELOPERS.md").read_text()
    assert {name for name in SETTINGS if f"`{name}`" not in told} == {"DEMO"}


def test_the_parts_stand_in_the_right_number_and_order() -> None:
    services = COMPOSE["services"]
    assert {"database", "broker", "migrate", "web", "worker", "timer", "proxy"} == set(services)
    assert services["worker"]["deploy"]["replicas"] >= 2
    assert "deploy" not in services["timer"]  # two timers ask for everything twice
    for name in ("web", "worker", "timer"):
        assert services[name]["depends_on"] == {
            "migrate": {"condition": "service_completed_successfully"}
        }
        assert services[name]["stop_grace_period"] == "30s"
    proxy = (DEPLOY / "proxy.conf").read_text()
    assert proxy.count("{") == proxy.count("}")
    assert "access_log off" in proxy  # addresses hold links that open without a password
    for unit in UNITS:
        read = configparser.RawConfigParser(strict=False)
        read.optionxform = str  # type: ignore[assignment,method-assign]
        read.read_string(unit.read_text())
        assert read.has_section("Unit")
        if unit.suffix == ".service" and read["Service"].get("Type") != "oneshot":
            assert read["Service"]["KillMode"] == "mixed"  # its children finish what they have
            assert read["Service"]["TimeoutStopSec"] == "30"


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not here")
def test_systemd_finds_nothing_wrong_with_the_units(tmp_path: Path) -> None:
    for name in ("postgresql.service", "redis-server.service"):
        (tmp_path / name).write_text("[Service]\nExecStart=/bin/true\n")
    for unit in UNITS:
        # The programs of this very run stand for those that will be installed.
        text = unit.read_text().replace(
            "/opt/siteplant/.venv/bin", str(Path(sys.executable).parent)
        )
        (tmp_path / unit.name).write_text(text.replace("/opt/siteplant", str(ROOT)))
    units = [str(tmp_path / unit.name.replace("@.", "@1.")) for unit in UNITS]
    shutil.copy(tmp_path / "siteplant-worker@.service", tmp_path / "siteplant-worker@1.service")
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", "--recursive-errors=no", *units],
        capture_output=True,
        text=True,
        env={"SYSTEMD_UNIT_PATH": f"{tmp_path}:", "PATH": "/usr/bin:/bin"},
    )
    ours = [line for line in done.stderr.splitlines() if "siteplant" in line]
    assert (done.returncode, ours) == (0, []), done.stderr
