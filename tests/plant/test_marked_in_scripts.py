"""Words in the scripts that a person reads are marked for translation, and come in the language."""

import re
from pathlib import Path

import pytest
from django.test import Client
from django.utils import translation
from django.views.i18n import JavaScriptCatalog

from plant import script_words

FILES = sorted((Path(__file__).resolve().parents[2] / "plant/static/plant").glob("*.js"))
# A comment, a text in quotes, or one with places; comments first, since they may hold quotes.
PIECE = re.compile(
    r"""/\*.*?\*/|(?<![:\\])//[^\n]*|"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`""", re.DOTALL
)
PLACE = re.compile(r"\$\{(?:[^{}]|\{[^{}]*\})*\}")
# Two words beside one another, or one that begins as a sentence does.
WORDS = re.compile(r"[A-Za-z]{2,}[.,;:]* [A-Za-z(]|(?<![\w-])[A-Z][a-z]+(?![\w-])")
# What is asked of a page, thrown at who reads the code, or looked up.
NOT_BARE = re.compile(
    r"\b(n?gettext|querySelector(All)?|matches|closest|Error|createImageBitmap)"
    r"\(\s*(\"[^\"]*\",\s*)*$"
)
# Keys that are compared and kept as written, and the months, which no language changes.
AS_WRITTEN = {
    "use strict", "Do not use", "Not yet passed", "Use, with a note", "OK to use",
    "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec", "Escape",
}  # fmt: skip


def unmarked(script: str) -> list[str]:
    found = []
    for piece in PIECE.finditer(script):
        text = piece[1] if piece[1] is not None else PLACE.sub("", piece[2] or "")
        is_told = WORDS.search(text) and text not in AS_WRITTEN
        if is_told and not NOT_BARE.search(script[: piece.start()]):
            found.append(text)
    return found


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_no_text_of_a_script_is_bare(file: Path) -> None:
    assert unmarked(file.read_text(encoding="utf-8")) == []


def test_bare_text_is_seen_and_what_is_marked_is_let_be() -> None:
    bare = ['say("Not kept.");', "x = `${n} kept on this phone`;", 'names = { stop: "Stop" };']
    assert [len(unmarked(each)) for each in bare] == [1, 1, 1]
    marked = (
        'say(gettext("Not kept.")); ngettext("%(n)s has gone", "%(n)s have gone", n);'
        'all("input, select"); // "A word to who reads"\nh["Content-Type"] = `/q/${code}`;'
    )
    assert unmarked(marked.replace('all("', 'one.querySelectorAll("')) == []


def test_in_its_own_language_a_page_brings_no_catalogue(client: Client) -> None:
    assert "words.js" not in client.get("/phone").content.decode()
    assert "words.js" not in client.get("/sw.js").content.decode()


def test_in_another_language_the_catalogue_comes_first_and_is_kept_without_signal(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = {"No photo.": "Kein Foto."}
    monkeypatch.setattr(JavaScriptCatalog, "get_catalog", lambda self: words)
    script_words._version.cache_clear()
    with translation.override("de"):
        page = client.get("/phone").content.decode()
        worker = client.get("/sw.js").content.decode()
        address = script_words.script_words_address()
        answer = client.get(address)
        words["No photo."] = "Ohne Foto."
        script_words._version.cache_clear()
        later = script_words.script_words_address()
    script_words._version.cache_clear()

    assert page.index(f'src="{address}"') < page.index("site.js") < page.index("phone.js")
    assert f'"{address}",' in worker
    assert "Kein Foto." in answer.content.decode()
    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert "public" in answer.headers["Cache-Control"]
    assert later != address
