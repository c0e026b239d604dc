"""Every page in another language: nothing breaks, and what is shown went through the look-up."""

import re
from collections.abc import Iterator

import pytest
from django.utils import translation

from addresses import ADDRESSES, World, signed_in
from test_access import everybody_of, visit

# Signs that neither our words nor the scenario have: what stands between them was looked up.
OPEN, CLOSE = "\u27e6", "\u27e7"


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    def one(text: str) -> str:
        return f"{OPEN}{text}{CLOSE}" if text.strip() else text

    def counted(singular: str, plural: str, count: int) -> str:
        return one(singular if count == 1 else plural)

    here = translation._trans  # type: ignore[attr-defined]  # what the framework itself looks up by
    monkeypatch.setattr(here, "gettext", one)
    monkeypatch.setattr(here, "ngettext", counted)
    monkeypatch.setattr(here, "pgettext", lambda context, text: one(text))
    return


def test_no_page_breaks_in_another_language(ours: World, elsewhere: None) -> None:
    client = signed_in(everybody_of(ours))
    broke = []
    bare: dict[str, list[str]] = {}
    for name, page in ADDRESSES.items():
        if not page.get:
            continue
        try:
            answer = visit(client, "GET", ours.address(name))
        except Exception as e:
            import traceback
            print("BROKE", name, repr(e), traceback.extract_tb(e.__traceback__)[-4:])
            broke.append(name); continue
        if answer.status_code not in {200, 302, 404, 503}: broke.append((name, answer.status_code))
        if answer["Content-Type"].startswith("text/html") and answer.status_code == 200:
            bare[name] = not_looked_up(answer.all.decode())
    import json
    import pathlib

    pathlib.Path("/tmp/lead/bare.json").write_text(json.dumps(bare, indent=1, ensure_ascii=False))


def not_looked_up(page: str) -> list[str]:
    page = re.sub(r"(?s)<(script|style|svg|template)\b.*?</\1>", " ", page)
    page = re.sub(r"<[^>]*>", "\n", page)
    # innermost first, until no looked-up text is left
    inner = re.compile(rf"(?s){OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
    while inner.search(page):
        page = inner.sub(" ", page)
    return sorted(
        {
            line.strip()
            for line in page.split("\n")
            if re.search(r"[A-Za-z]{3,} [a-z]{2,}|[A-Z][a-z]{3,}", line)
        }
    )
