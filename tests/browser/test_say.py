"""A question said aloud: by a voice of the phone's own, with signal and without, until answered."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, Playwright, Worker, expect

from browser.line import Line
from browser.seen import PHONE, Depot, Opener

pytestmark = pytest.mark.browser
# The browser's own speech, with a voice that is brought along: system voices differ by computer.
VOICE = Path(__file__).parent / "voice"


@pytest.fixture
def line(depot: Depot) -> Iterator[Line]:
    line = Line(port=int(depot.address.rsplit(":", 1)[1]))
    yield line
    line.cut()


@pytest.fixture
def speaking(
    playwright: Playwright, browser_type_launch_args: dict[str, Any], line: Line, tmp_path: Path
) -> Iterator[BrowserContext]:
    flags = [flag for flag in browser_type_launch_args["args"] if "extensions" not in flag]
    context = playwright.chromium.launch_persistent_context(
        tmp_path / "profile", **PHONE, base_url=f"http://localhost:{line.port}",
        executable_path=browser_type_launch_args["executable_path"], locale="en-GB",
        ignore_default_args=["--disable-extensions"], service_workers="allow",
        args=[*flags, "--headless=new", f"--load-extension={VOICE}"],
    )  # fmt: skip
    context.set_default_timeout(15_000)
    yield context
    context.close()


def voice(context: BrowserContext) -> Worker:
    mine = [each for each in context.service_workers if each.url.startswith("chrome-extension:")]
    return mine[0] if mine else context.wait_for_event("serviceworker")


def hears(page: Page, worker: Worker, *words: str) -> None:
    for _ in range(100):
        said = worker.evaluate("self.said")
        if said == list(words):
            return
        page.wait_for_timeout(50)
    assert said == list(words)


def walk(page: Page, worker: Worker) -> None:
    """Two questions are said, the second over the first; an answer ends it."""
    worker.evaluate("self.said.length = 0")
    questions = page.locator("fieldset.question")
    asked = [
        each.inner_text().replace("\n", " ") for each in questions.locator(".asked > span").all()
    ]
    first, second = (questions.nth(n).get_by_role("button", name="Say it") for n in (0, 1))
    first.tap()
    hears(page, worker, asked[0])
    second.tap()
    hears(page, worker, asked[0], "stopped", asked[1])
    questions.nth(1).get_by_text("OK", exact=True).tap()
    hears(page, worker, asked[0], "stopped", asked[1], "stopped")


def test_a_question_is_said_with_signal_and_without(
    speaking: BrowserContext, depot: Depot, line: Line
) -> None:
    page = speaking.new_page()
    label = f"/q/{depot.found['labels']['MX-204']}"
    page.goto(f"{label}/check")
    worker = voice(speaking)
    walk(page, worker)
    box = page.get_by_role("button", name="Say it").first.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 44
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("async () => Boolean(await caches.match('/phone'))")

    line.cut()
    page.goto(f"{label}/check")

    expect(page.get_by_text("No signal. Look, try, and answer.")).to_be_visible()
    walk(page, worker)


def test_a_phone_without_a_voice_shows_no_such_button(open_page: Opener, depot: Depot) -> None:
    page = open_page(phone=True)
    page.goto(f"/q/{depot.found['labels']['MX-204']}/check")

    assert page.evaluate("speechSynthesis.getVoices().length") == 0
    expect(page.locator(".say").first).to_be_hidden()
