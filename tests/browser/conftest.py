"""The whole thing as people start it: web server, worker, timer, database, and a browser on it."""

import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, cast

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from browser.seen import DESK, PHONE, Depot, Opener

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
# Room for a busy computer on which the demo firm must first be lived.
LONGEST_START_S = 600
LONGEST_STOP_S = 40
# A busy computer takes its time over a page; whoever waits for what never comes waits so long.
LONGEST_ANSWER_MS = 15_000
expect.set_options(timeout=LONGEST_ANSWER_MS)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Shared out by ``--dist=loadgroup``: the walks of a file stay together, pages go anywhere.

    Walks come first, so that no worker is left alone with a long one at the end.
    """
    ours = [item for item in items if item.path.parent == HERE]
    walks = [item for item in ours if item.path.name != "test_pages.py"]
    for item in walks:
        item.add_marker(pytest.mark.xdist_group(item.path.stem))
    pages = [item for item in ours if item.path.name == "test_pages.py"]
    items[:] = [item for item in items if item.path.parent != HERE] + walks + pages


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """The distribution's Chromium, which is told to call nobody."""
    quiet = "gpu quic first-run background-networking component-update sync dev-shm-usage"
    flags = [f"--disable-{each}" for each in quiet.split() if each != "first-run"]
    return {
        **browser_type_launch_args,
        "executable_path": os.environ.get("CHROMIUM", "/usr/bin/chromium"),
        "args": [*flags, "--no-first-run", "--no-sandbox", "--force-color-profile=srgb"],
    }


@pytest.fixture(scope="session")
def depot(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Depot]:
    """A depot with the demo firm, started by the one command and stopped by Ctrl-C.

    ``LIVED_DEPOT`` names the data folder of one that was started and stopped before: it is copied.
    """
    folder = tmp_path_factory.mktemp("depot")
    if lived := os.environ.get("LIVED_DEPOT"):
        shutil.copytree(lived, folder, dirs_exist_ok=True)
    port = _free_port()
    ours = {"SECRET_KEY", "DJANGO_SETTINGS_MODULE", "DATABASE_URL", "BROKER_URL", "LOG_LEVEL"}
    environment = {name: value for name, value in os.environ.items() if name not in ours}
    environment |= {"DATA_DIR": str(folder), "PYTHONPATH": str(ROOT)}
    log = folder / "log.txt"
    with log.open("wb") as out:
        started = subprocess.Popen(
            [sys.executable, "manage.py", "depot", "--demo", "--port", str(port)],
            cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT,
            start_new_session=True,
        )  # fmt: skip
    try:
        _wait_until_well(started, port=port, log=log)
        scenes = subprocess.run(
            [sys.executable, str(HERE / "scenes.py")],
            cwd=ROOT, env=environment, check=True, capture_output=True, text=True,
        ).stdout  # fmt: skip
        yield Depot(address=f"http://localhost:{port}", folder=folder, found=json.loads(scenes))
    finally:
        started.send_signal(signal.SIGINT)
        try:
            code = started.wait(LONGEST_STOP_S)
        except subprocess.TimeoutExpired:
            os.killpg(started.pid, signal.SIGKILL)
            raise
    assert code == 0, f"The depot stopped with code {code}:\n{log.read_text()}"
    assert "Traceback" not in log.read_text(), log.read_text()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_until_well(started: "subprocess.Popen[bytes]", *, port: int, log: Path) -> None:
    until = time.monotonic() + LONGEST_START_S
    while time.monotonic() < until:
        if started.poll() is not None:
            break
        try:
            with urllib.request.urlopen(f"http://localhost:{port}/health.json", timeout=5) as told:
                if json.load(told)["well"]:
                    return
        except (OSError, ValueError):
            pass
        time.sleep(0.3)
    raise AssertionError(f"The depot did not start:\n{log.read_text()}")


@pytest.fixture(scope="session")
def _signed_in() -> dict[str, Any]:
    """Cookies of those who have signed in already, by name."""
    return {}


@pytest.fixture
def open_page(browser: Browser, depot: Depot, _signed_in: dict[str, Any]) -> Iterator[Opener]:
    """Opens a page of a given width, as somebody or nobody; all are closed after the test."""
    contexts: list[BrowserContext] = []

    def opened(*, phone: bool = False, name: str = "", script: bool = True) -> Page:
        context = _context(browser, depot, _signed_in, phone=phone, name=name, script=script)
        contexts.append(context)
        return _page(context, _signed_in, name)

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def _kept_open() -> dict[tuple[bool, str], Page]:
    """One page for each width and person, for tests that look and do nothing."""
    return {}


@pytest.fixture
def first_visit(
    browser: Browser, depot: Depot, _signed_in: dict[str, Any], _kept_open: dict[Any, Page]
) -> Opener:
    """As ``open_page``, for one look: the same page again, with nothing on it from the look before.

    A new process of the browser for each of some hundred pages is much of what they take.
    """

    def opened(*, phone: bool = False, name: str = "") -> Page:
        if (phone, name) not in _kept_open:
            context = _context(browser, depot, _signed_in, phone=phone, name=name)
            _kept_open[phone, name] = _page(context, _signed_in, name)
        page = _kept_open[phone, name]
        page.goto("about:blank")
        line = page.context.new_cdp_session(page)
        kept = "cache_storage,indexeddb,local_storage,service_workers,websql"
        line.send("Storage.clearDataForOrigin", {"origin": depot.address, "storageTypes": kept})
        line.detach()
        page.emulate_media(color_scheme="light", forced_colors="none")
        return page

    return opened


def _context(
    browser: Browser, depot: Depot, signed_in: dict[str, Any], *, phone: bool, name: str,
    script: bool = True,
) -> BrowserContext:  # fmt: skip
    context = browser.new_context(
        **(PHONE if phone else DESK), base_url=depot.address, locale="en-GB",
        timezone_id="Europe/London", java_script_enabled=script,
        storage_state=signed_in.get(name), reduced_motion="reduce",
    )  # fmt: skip
    context.set_default_timeout(LONGEST_ANSWER_MS)
    return context


def _page(context: BrowserContext, signed_in: dict[str, Any], name: str) -> Page:
    page = context.new_page()
    if name and name not in signed_in:
        sign_in(page, name)
        signed_in[name] = context.storage_state()
    return page


def sign_in(page: Page, name: str) -> None:
    """Types name and password, as people do."""
    told = json.loads((ROOT / "fixtures/demo/people.json").read_text(encoding="utf-8"))
    page.goto("/sign-in")
    page.get_by_label("Sign-in name").fill(name)
    page.get_by_label("Password").fill(told["password"])
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda address: "/sign-in" not in address)


@pytest.fixture
def ask(depot: Depot) -> Callable[..., list[tuple[Any, ...]]]:
    """Reads the depot's own database, beside the pages."""

    def answer(sql: str, *given: Any) -> list[tuple[Any, ...]]:
        with closing(sqlite3.connect(f"file:{depot.folder}/plant.sqlite3?mode=ro", uri=True)) as db:
            return cast(list[tuple[Any, ...]], db.execute(sql, given).fetchall())

    return answer
