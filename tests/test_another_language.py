"""Every page in another language: nothing breaks, and what frames it went through the look-up."""

import html
import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from django.utils import translation

from addresses import ADDRESSES, World, signed_in
from maintenance.contents import worked
from plant.contents import help
from test_access import OURS, everybody_of, visit

# Signs that neither our words nor the scenario have: what stands between them was looked up.
OPEN, CLOSE = "\u27e6", "\u27e7"
LOOKED_UP = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
# A name that is filled in later: what stands there went through the look-up by itself, or is data.
PLACE = re.compile(r"(\{\w*\}|%\(\w+\)s)")
# Acts, columns, fields, headings, facts and what drawings say. The rest of a page is also what
# people wrote.
FRAMES = re.compile(
    r"(?s)<(button|th scope=\"col\"|label|legend|h[123]|dt|p class=\"hint\"|text|title)[ >](.*?)"
    r"</(?:button|th|label|legend|h[123]|dt|p|text|title)>"
)
# Data of the program, which a firm in another language loads in its own.
REFERENCE = Path(__file__).resolve().parents[1] / "fixtures/reference"
# How far a source was seen goes with it as data; units, dates and codes are the same everywhere.
TRUST = re.compile(r", (from memory|secondary|seen|common practice, no source)$|^“seen”:.*")
AS_WRITTEN = re.compile(
    r"\b(rpm|min|deg|ohm|kohm|Mohm|kgf|lbf|Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
    r"|Mon|Tue|Wed|Thu|Fri|Sat|Sun|GBP|OURS|Great Britain)\b"
)


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    def one(text: str) -> str:
        if not translation.get_language():
            return text
        parts = PLACE.split(str(text))
        told = (f"{OPEN}{each}{CLOSE}" if each.strip() else each for each in parts[::2])
        return "".join(each for pair in zip(told, [*parts[1::2], ""], strict=True) for each in pair)

    here = translation._trans  # type: ignore[attr-defined]  # what the framework looks up by
    monkeypatch.setattr(here, "gettext", one)
    monkeypatch.setattr(here, "ngettext", lambda *text: one(text[0 if text[2] == 1 else 1]))
    monkeypatch.setattr(here, "pgettext", lambda context, text: one(text))
    # Kept by the name of the language, which stays the same here.
    kept = (worked._worked, help._drawn)
    for each in kept:
        each.cache_clear()
    yield
    for each in kept:
        each.cache_clear()


@cache
def reference() -> str:
    def texts(value: object) -> Iterator[str]:
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict | list):
            for each in value.values() if isinstance(value, dict) else value:
                yield from texts(each)

    files = (json.loads(file.read_text(encoding="utf-8")) for file in REFERENCE.glob("*.json"))
    return " ".join(text for file in files for text in texts(file)).casefold()


def as_it_is(page: str) -> set[str]:
    """The words of a page's frame that were not looked up, but for data and names as written."""
    found = set()
    for _, inside in FRAMES.findall(page):
        words = inside
        while OPEN in words:
            words = LOOKED_UP.sub("|", words)
        for piece in re.sub(r"<[^>]*>|^[^<>]*>", "|", html.unescape(words)).split("|"):
            told = TRUST.sub("", " ".join(piece.split()).strip(" .,:;()1234567890"))
            is_data = OURS in told.casefold() or told.casefold() in reference()
            if not is_data and re.search(r"[A-Za-z]{3}", AS_WRITTEN.sub("", told)):
                found.add(told)
    return found


@pytest.mark.usefixtures("elsewhere")
def test_no_page_breaks_in_another_language_and_its_frame_is_in_it(ours: World) -> None:
    client = signed_in(everybody_of(ours))
    left, broken, seen = set(), [], 0
    for name, page in ADDRESSES.items():
        if not page.get:
            continue
        answer = visit(client, "GET", ours.address(name))
        if answer.status_code not in {200, 302, 404, 503}:
            broken.append(name)
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            seen += OPEN in answer.all.decode()
            left |= {(name, words) for words in as_it_is(answer.all.decode())}
    assert broken == []
    assert seen > 100
    assert left == set()
