"""Every word that a template brings itself is marked for translation."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.template import engines
from django.template.base import Lexer, TokenType
from django.utils.translation import gettext
from django.utils.translation.template import templatize

ROOT = Path(__file__).resolve().parents[2]
APPS = ("plant", "maintenance", "reports")
TEMPLATES = sorted(
    path for app in APPS for path in (ROOT / app / "templates").rglob("*.html") if path.is_file()
)
# Attributes that people read or hear.
READ = {"title", "aria-label", "aria-description", "aria-valuetext", "alt", "placeholder", "label"}
READ |= {"data-label"}
# Words of a tag's or filter's own that are shown: a caution's second, what a value falls back on.
SHOWN = re.compile(r'{% caution "[^"]*" "|\|(?:default|yesno):"[^"]*[A-Za-z]')
# What a page adds inside the tag <body> of all pages: attributes, though no tag is around them.
PACK = re.compile(r"{% block pack %}.*?{% endblock.*?%}")
LETTER = re.compile(r"[^\W\d_]")


class Bare(HTMLParser):
    """Gathers what is read of a page: its text, and the attributes of READ."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        # A command is typed as it stands.
        self.silent += tag in {"script", "style", "code"}
        self.found += [value for name, value in attrs if name in READ and value]

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in {"script", "style", "code"}

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.found.append(data)


def unmarked(text: str) -> list[str]:
    """What stands in a template for people to read, and is not marked."""
    wrong = [m[0] for m in SHOWN.finditer(re.sub(r"\{#.*?#\}", "", text))]
    wrong += re.findall(r"\{\{[^}]*\|pluralize[^}]*\}\}", text)
    rest, inside = "", ""
    for token in Lexer(PACK.sub("", text)).tokenize():
        word = token.contents.split()[0] if token.token_type == TokenType.BLOCK else ""
        if word in {"blocktranslate", "comment"}:
            inside = f"end{word}"
        elif word and word == inside:
            inside = ""
        elif token.token_type == TokenType.TEXT and not inside:
            rest += token.contents
    page = Bare()
    page.feed(rest)
    page.close()
    return wrong + [each.strip() for each in page.found if LETTER.search(each)]


def messages(text: str) -> list[str]:
    """Every message that `makemessages` would find in a template."""
    found = re.findall(r"""gettext\(u?('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")\)""", templatize(text))
    found += re.findall(r'_\(("[^"]*")\)', text)
    return [each[1:-1] for each in found]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_text_of_a_template_is_bare(path: Path) -> None:
    assert unmarked(path.read_text(encoding="utf-8")) == []


def test_there_are_templates_to_read() -> None:
    assert len(TEMPLATES) > 150


@pytest.mark.parametrize(
    "text",
    [
        "<p>Bare</p>",
        "{% if a %}<b>{{ a }}</b> of them{% endif %}",
        '<td data-label="Bare">{{ a }}</td>',
        '<nav aria-label="Page {{ n }}"></nav>',
        '{% caution "Stop" "It can start." %}',
        '{{ a|default:"none" }}',
        "{% blocktranslate %}Row{{ n|pluralize }}{% endblocktranslate %}",
        '<p>{% translate "Marked" %}, not</p>',
    ],
)
def test_bare_text_is_seen(text: str) -> None:
    assert unmarked(text)


@pytest.mark.parametrize(
    "text",
    [
        '<p class="lead">{% translate "Marked" %}: {{ a }} &nbsp;</p>',
        "{% blocktranslate %}<b>Marked</b>{% endblocktranslate %}{# a word to who reads #}",
        '{% caution "Stop" _("It can start.") %}<script>const a = 1;</script>',
        '{{ on|date:"j M Y" }}{% comment %}said{% endcomment %}',
    ],
)
def test_what_is_marked_or_not_read_is_let_be(text: str) -> None:
    assert unmarked(text) == []


def test_the_messages_are_found_and_the_framework_says_none_of_them_otherwise() -> None:
    """A word that the framework has a British form of would come out as that and not as ours."""
    found = {each for path in TEMPLATES for each in messages(path.read_text(encoding="utf-8"))}
    assert len(found) > 800
    assert {each for each in found if gettext(each) != each} == set()


def test_a_translation_comes_out_in_place_of_the_text(monkeypatch: pytest.MonkeyPatch) -> None:
    text = (
        '{% translate "One" %} {% blocktranslate with a=b.c %}Two {{ a }}{% endblocktranslate %} '
        '{% caution "Stop" _("Three.") %}'
    )
    monkeypatch.setattr("django.utils.translation._trans.gettext", lambda said: f"⟦{said}⟧")
    django = engines["django"]
    shown = django.from_string("{% load marks %}" + text).render({"b": {"c": "2"}})
    assert "⟦One⟧ ⟦Two 2⟧" in shown
    assert "⟦Three.⟧" in shown
