"""Every page in another language: nothing breaks, and what frames it went through the look-up."""

import re

import pytest
from django.utils import translation

from addresses import ADDRESSES, World, signed_in
from test_access import OURS, everybody_of, visit

# Signs that neither our words nor the scenario have: what stands between them was looked up.
OPEN, CLOSE = "\u27e6", "\u27e7"
# Acts and columns. The rest of a page is also what people wrote, what the rule sheets ask, and the
# help, each of which is kept in a file of its own.
FRAMES = re.compile(r"(?s)<(button|th scope=\"col\")[ >](.*?)</(?:button|th)>")


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    def one(text: str) -> str:
        is_shown = text.strip() and translation.get_language()
        return f"{OPEN}{text}{CLOSE}" if is_shown else text

    here = translation._trans  # type: ignore[attr-defined]  # what the framework looks up by
    monkeypatch.setattr(here, "gettext", one)
    monkeypatch.setattr(here, "ngettext", lambda *text: one(text[0 if text[2] == 1 else 1]))
    monkeypatch.setattr(here, "pgettext", lambda context, text: one(text))


def as_it_is(page: str) -> set[str]:
    """The words of acts and columns of which none was looked up, but for names of the scenario."""
    page = re.sub(r"(?s)<(svg|template)\b.*?</\1>", " ", page)
    found = set()
    for _, words in FRAMES.findall(page):
        told = " ".join(re.sub(r"<[^>]*>|^[^<>]*>", " ", words).split())
        if OPEN not in told and OURS not in told.casefold() and re.search(r"[A-Za-z]{3}", told):
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
