"""One look for all pages: none has a style of its own, and the style sheet holds what is used."""

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
APPS = ("plant", "maintenance", "reports")
# Put together by {% mark %} from the tone of a mark.
TONES = {"mark-stop", "mark-care", "mark-fine"}


def _files(*ends: str) -> dict[Path, str]:
    return {
        path: path.read_text(encoding="utf-8")
        for app in APPS
        for path in (ROOT / app).rglob("*")
        if path.suffix in ends and "migrations" not in path.parts
    }


def _classes_of_the_sheet() -> set[str]:
    sheet = (ROOT / "plant/static/plant/site.css").read_text(encoding="utf-8")
    sheet = re.sub(r"/\*.*?\*/", " ", sheet, flags=re.DOTALL)
    # What is left outside the innermost braces is selectors and media queries.
    selectors = re.sub(r"\{[^{}]*\}", " ", sheet)
    return set(re.findall(r"\.([a-z][a-z0-9-]*)", selectors))


def _classes_of_pages() -> dict[str, str]:
    """Each class that a page can carry, and one file that writes it."""
    found: dict[str, str] = {}
    for path, text in _files(".html").items():
        # What a tag decides is left out; both of its outcomes stay.
        plain = re.sub(r"{%.*?%}|{{.*?}}", " ", text)
        for words in re.findall(r'\bclass="([^"]*)"', plain):
            found |= dict.fromkeys(words.split(), path.name)
    for path, text in _files(".js").items():
        for words in re.findall(r'(?:className = |classList\.\w+\(|class=)"([a-z -]+)"', text):
            found |= dict.fromkeys(words.split(), path.name)
    for path, text in _files(".py").items():
        for words in re.findall(r'"class": "([^"]*)"|<[^>]*\bclass="([^"]*)"', text):
            each = [one for one in "".join(words).split() if re.fullmatch(r"[a-z-]*[a-z]", one)]
            found |= dict.fromkeys(each, path.name)
    return found


def test_no_page_has_a_style_of_its_own() -> None:
    for path, text in _files(".html", ".svg").items():
        assert not re.search(r"\sstyle\s*=|<style\b", text), path
    for path, text in _files(".js").items():
        assert not re.search(r"\.style\b|createElement\(.style", text), path
    for path, text in _files(".py").items():
        assert "pdf" in path.parts or not re.search(r"<[a-z][^>]*\sstyle=|<style\b", text), path


def test_every_class_that_is_used_is_in_the_style_sheet_and_none_is_left_over() -> None:
    drawn, used = _classes_of_the_sheet(), _classes_of_pages()
    assert len(drawn) > 80
    assert {name: path for name, path in used.items() if name not in drawn} == {}
    assert drawn - set(used) - TONES == set()


def test_the_words_at_the_head_of_the_style_sheet_are_all_drawn() -> None:
    sheet = (ROOT / "plant/static/plant/site.css").read_text(encoding="utf-8")
    head = sheet[: sheet.index("*/")]
    told = set(re.findall(r"(?<![\w/])\.([a-z][a-z-]*[a-z])\b(?!\.(?:js|html|svg))", head))
    told -= {"html", "js", "py", "svg"}
    assert told - _classes_of_the_sheet() == set()
