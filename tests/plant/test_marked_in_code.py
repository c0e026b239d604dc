"""Words in Python that a person reads are marked for translation, with names that are filled in."""

import ast
import string
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FILES = sorted(
    path.relative_to(ROOT)
    for app in ("plant", "maintenance", "reports")
    for path in (ROOT / app).rglob("*.py")
    if not {"migrations", "management", "config"} & set(path.relative_to(ROOT).parts)
)
MARKS = {"_", "gettext", "gettext_lazy", "ngettext"}
# What is shown, by the name of the call and of what it is given there.
SHOWN = {"label", "help_text", "empty_label", "empty_text", "verbose_name"}
TOLD = {"Refused": 0, "ValidationError": 0, "add_error": 1, "success": 1, "warning": 1, "error": 1}


def _name(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def _calls(tree: ast.AST) -> Iterator[ast.Call]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def _bare(text: ast.expr) -> bool:
    """Text with words in it that is not marked."""
    if isinstance(text, ast.JoinedStr):
        parts = [part.value for part in text.values if isinstance(part, ast.Constant)]
    elif isinstance(text, ast.Constant) and isinstance(text.value, str):
        parts = [text.value]
    else:
        return False
    return any(len(word) > 1 for part in parts for word in part.split() if word.isalpha())


def unmarked(tree: ast.AST, *, of_a_table: bool) -> list[int]:
    lines = []
    for call in _calls(tree):
        for given in call.keywords:
            # The name of a field of a model is for who reads the code.
            if given.arg in SHOWN and (of_a_table is False or given.arg == "label"):
                lines += [given.value.lineno] if _bare(given.value) else []
        at = TOLD.get(_name(call))
        of_a_log = isinstance(call.func, ast.Attribute) and (
            getattr(call.func.value, "id", "") in {"log", "logger"}
        )
        if at is not None and not of_a_log and len(call.args) > at and _bare(call.args[at]):
            lines.append(call.lineno)
    return lines


def unfilled(tree: ast.AST) -> list[str]:
    """Texts whose names in braces are not the names that format() is given."""
    wrong = []
    for call in _calls(tree):
        inner = call.func.value if isinstance(call.func, ast.Attribute) else None
        if _name(call) != "format" or not isinstance(inner, ast.Call) or _name(inner) not in MARKS:
            continue
        given = {each.arg for each in call.keywords}
        for text in inner.args:
            if isinstance(text, ast.Constant) and isinstance(text.value, str):
                asked = {name for _, name, _, _ in string.Formatter().parse(text.value) if name}
                if asked != given:
                    wrong.append(text.value)
    return wrong


def glued(tree: ast.AST) -> list[str]:
    """Texts in which two names stand without a word between them: a sentence put together."""
    return [
        text.value
        for call in _calls(tree)
        if _name(call) in MARKS | {"gettext_noop"}
        for text in call.args
        if isinstance(text, ast.Constant) and isinstance(text.value, str) and "}{" in text.value
    ]


@pytest.mark.parametrize("file", FILES, ids=str)
def test_what_a_person_reads_is_marked(file: Path) -> None:
    tree = ast.parse((ROOT / file).read_text())
    assert unmarked(tree, of_a_table="models" in file.parts) == []
    assert unfilled(tree) == []
    assert glued(tree) == []


def test_both_looks_find_what_they_are_for() -> None:
    bare = (
        'Refused("Nothing was saved.")\nCharField(label=f"Part {n}")\nadd_error("to", "Too late")'
    )
    assert unmarked(ast.parse(bare), of_a_table=False) == [1, 2, 3]
    marked = 'Refused(_("Nothing was saved."))\nlog.error("not sent", x)\nCharField(label=words)'
    assert unmarked(ast.parse(marked), of_a_table=False) == []
    assert unfilled(ast.parse('_("{a} of {b}").format(a=1, c=2)')) == ["{a} of {b}"]
    assert unfilled(ast.parse('ngettext("{a} row", "{a} rows", n).format(a=n)')) == []
    assert glued(ast.parse('_("{a}{b} of {c}")')) == ["{a}{b} of {c}"]
    assert glued(ast.parse('_("{a} of {b}, {c}")')) == []
