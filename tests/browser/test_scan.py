"""Scan with a phone's camera: our own labels open their machine, a stranger's code is refused."""

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from browser.seen import Depot, Opener

pytestmark = pytest.mark.browser

# A camera that shows a white wall, and a phone that reads in it what the test holds up.
_CAMERA = """
window.__held = [];
navigator.mediaDevices.getUserMedia = async () => {
  if (window.__no_camera) throw new DOMException("no", "NotAllowedError");
  const wall = document.createElement("canvas");
  wall.getContext("2d").fillRect(0, 0, 10, 10);
  window.__stream = wall.captureStream(5);
  return window.__stream;
};
window.BarcodeDetector = class {
  static async getSupportedFormats() { return ["qr_code"]; }
  async detect() { return window.__held.map((rawValue) => ({ rawValue })); }
};
"""


def opened(open_page: Opener, *, camera: bool = True) -> Page:
    page = open_page(phone=True, name="kofi")
    if camera:
        page.add_init_script(_CAMERA)
    page.goto("/scan")
    return page


def test_the_camera_opens_our_own_label(open_page: Opener, depot: Depot) -> None:
    page = opened(open_page)
    code: Any = depot.found["labels"]["MX-201"]
    page.get_by_role("button", name="Use the camera").tap()
    expect(page.locator("#camera-picture")).to_be_visible()
    expect(page.locator("#camera-words")).to_have_text("Hold the label in the picture.")

    page.evaluate("(text) => { window.__held = [text]; }", f"{depot.address}/q/{code}")

    page.wait_for_url(f"**/q/{code}")
    expect(page.get_by_role("heading", name="MX-201", level=1)).to_be_visible()


@pytest.mark.parametrize(
    "stranger",
    [
        "https://elsewhere.example/q/{code}", "{address}/q/{code}?next=https://elsewhere.example",
        "{address}/sign-out", "javascript:alert(1)", "//elsewhere.example/q/{code}", "MX-201",
        "{address}.elsewhere.example/q/{code}", "{address}/q/{code}/stop",
    ],
)  # fmt: skip
def test_a_strangers_code_is_refused_in_words_and_never_followed(
    open_page: Opener, depot: Depot, stranger: str
) -> None:
    page = opened(open_page)
    page.get_by_role("button", name="Use the camera").tap()
    held = stranger.format(address=depot.address, code=depot.found["labels"]["MX-201"])

    page.evaluate("(text) => { window.__held = [text]; }", held)

    said = "This code is not one of our labels. It was not opened."
    expect(page.locator("#camera-words")).to_have_text(said)
    page.wait_for_timeout(600)
    assert page.url == f"{depot.address}/scan"
    page.get_by_role("button", name="Camera off").tap()
    assert page.evaluate("() => window.__stream.getTracks().every((t) => t.readyState === 'ended')")


def test_without_a_camera_or_a_reader_the_code_is_typed(open_page: Opener) -> None:
    page = opened(open_page, camera=False)
    expect(page.locator("#camera")).to_be_hidden()

    page.get_by_label("Code or machine number").fill("mx 201")
    page.get_by_role("button", name="Open the machine").tap()

    page.wait_for_url("**/check")
    expect(page.get_by_role("heading", level=1)).to_contain_text("MX-201")


def test_a_camera_that_is_not_allowed_says_what_to_do(open_page: Opener) -> None:
    page = opened(open_page)
    page.evaluate("() => { window.__no_camera = true; }")

    page.get_by_role("button", name="Use the camera").tap()

    expect(page.locator("#camera-words")).to_have_text(
        "The camera cannot be used. Type the code instead."
    )
