"""The marks of machines and jobs, each a drawn shape and its word; colour only repeats them."""

from dataclasses import dataclass
from functools import cache
from typing import Final

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

register = template.Library()


class NoSuchMark(ValueError):
    """The word is none of the marks; the message names it."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A word, the shape beside it (SVG in a box of 24 by 24, empty for none) and its tone.

    The word is a key as well, so it stays as written here and is looked up when it is shown.
    """

    word: str
    shape: str
    tone: str = "plain"


_SPANNER = (
    '<path d="M14.1 10.3a5 5 0 0 1 6.4-6.2l-3 3 .7 2.2 2.2.7 3-3a5 5 0 0 1-6.2 6.4L9.4 21.2'
    'a2.3 2.3 0 0 1-3.3 0l-.9-.9a2.3 2.3 0 0 1 0-3.3z" transform="translate(-2 -.6)"/>'
)
_OCTAGON = (
    '<path class="solid" fill-rule="evenodd" '
    'd="M7.4 1h9.2L23 7.4v9.2L16.6 23H7.4L1 16.6V7.4zM5 9.8v4.4h14V9.8z"/>'
)
_CUT_CORNER = '<path d="M3.5 3.5h10.3l6.7 6.7v10.3h-17z"/>'
_TICK = '<path class="thick" d="M3.5 12.5 9.5 19 20.5 5.5"/>'
_CROSS = '<path class="thick" d="M5 5l14 14M19 5 5 19"/>'
_DOTTED_CIRCLE = '<circle class="dots" cx="12" cy="12" r="9"/>'

# In sets: of one set no two may look alike without colour (tests/browser/test_grey.py).
MARK_SETS: Final[dict[str, tuple[Mark, ...]]] = {
    _("Where it is"): (
        Mark(_("In yard"), '<path d="M2.5 11.5 12 3.5l9.5 8M5.5 9.5v11h13v-11"/>'),
        Mark(_("In workshop"), _SPANNER),
        Mark(_("Out"), '<path d="M13 3.5H3.5v17H13M9 12h12M16.5 7.5 21 12l-4.5 4.5"/>'),
        Mark(_("Moving"), '<path d="M2.5 7.5h12M10.5 3.5l4 4-4 4M9 16.5h12M17 12.5l4 4-4 4"/>'),
        Mark(_("Laid up"), '<path d="M12 2v20M3.3 7l17.4 10M3.3 17 20.7 7"/>'),
        Mark(
            _("Missing"),
            '<path d="M6.5 8a5.5 5.3 0 1 1 8.7 4.3c-2 1.4-3.2 2.2-3.2 4.2"/>'
            '<circle class="solid" cx="12" cy="21" r="1.7"/>',
        ),
        Mark(_("Gone"), '<path d="M1.5 12h21"/>'),
    ),
    _("May it be used"): (
        Mark(_("OK to use"), '<circle cx="12" cy="12" r="8.8"/>', "fine"),
        Mark(_("Use, with a note"), _CUT_CORNER, "care"),
        Mark(_("Do not use"), _OCTAGON, "stop"),
        Mark(_("Not yet passed"), _DOTTED_CIRCLE),
    ),
    _("What is due"): (
        Mark(_("Nothing due"), ""),
        Mark(_("Due soon"), '<path d="M4 2.5h16M4 21.5h16M6 2.5 18 21.5M18 2.5 6 21.5"/>', "care"),
        Mark(_("Overdue"), '<path class="solid" d="M12 2 23.2 21.5H.8z"/>', "stop"),
        Mark(_("Needed before use"), '<path d="M3 4h18l-9 16z"/>', "care"),
    ),
    _("How far a job is"): (
        Mark(_("Reported"), '<path d="M3 4h18v12.5H11.5L6.5 21v-4.5H3z"/>'),
        Mark(
            _("Looked at"),
            '<path d="M1.8 12C4.5 7.7 8 5.6 12 5.6s7.5 2.1 10.2 6.4c-2.7 4.3-6.2 6.4-10.2 6.4'
            'S4.5 16.3 1.8 12z"/><circle class="solid" cx="12" cy="12" r="3.2"/>',
        ),
        Mark(
            _("Given out"),
            '<path d="M7.5 22v-3.5L3.6 13a1.6 1.6 0 0 1 2.6-1.9L8 13.4V5.2a1.5 1.5 0 0 1 3 0V3.4'
            "a1.5 1.5 0 0 1 3 0v1.4a1.5 1.5 0 0 1 3 0v2.4a1.5 1.5 0 0 1 3 0v8.3L18 19v3"
            'M11 5.2v5.3M14 4.8v5.7M17 7.2v3.6"/>',
        ),
        Mark(_("Under way"), _SPANNER),
        Mark(_("Waiting"), '<path class="thick" d="M8 4v16M16 4v16"/>'),
        Mark(
            _("Work done"),
            '<circle cx="12" cy="12" r="9"/><path class="solid" d="M12 3a9 9 0 0 0 0 18z"/>',
        ),
        Mark(
            _("Checked and closed"),
            '<path class="solid" fill-rule="evenodd" d="M12 1.5a10.5 10.5 0 1 0 0 21 10.5 10.5 0 0 '
            '0 0-21zM6.2 12.3l1.7-1.8 2.8 2.7 5.6-5.9 1.8 1.7-7.4 7.8z"/>',
        ),
        Mark(_("Called off"), '<circle cx="12" cy="12" r="9"/><path d="M5.6 18.4 18.4 5.6"/>'),
    ),
    _("Answers, and the three strong words"): (
        Mark(_("OK"), _TICK, "fine"),
        Mark(_("Wrong"), _CROSS, "stop"),
        Mark(_("Could not check"), _DOTTED_CIRCLE),
        Mark(_("None on it"), '<path d="M6 12h12"/>'),
        Mark(_("Stop"), _OCTAGON, "stop"),
        Mark(
            _("Take care"), '<path d="M12 1.8 22.2 12 12 22.2 1.8 12zM12 7.2v6M12 15.4v2"/>', "care"
        ),
        Mark(_("Note"), _CUT_CORNER),
    ),
    _("How a part of the system is"): (
        Mark(_("Well"), _TICK, "fine"),
        Mark(_("Not well"), _CROSS, "stop"),
    ),
}
# The keys under which the models and rules keep some of these words.
_KEYS: Final = {
    "yard": "in yard",
    "workshop": "in workshop",
    "nothing": "nothing due",
    "closed": "checked and closed",
}
_BY_WORD: Final = {mark.word.casefold(): mark for marks in MARK_SETS.values() for mark in marks}


def mark_of(word: object) -> Mark:
    """The mark with this word, in any case, or with the key that a model keeps for it.

    Raises:
        NoSuchMark: there is none.
    """
    key = str(word).casefold()
    found = _BY_WORD.get(_KEYS.get(key, key)) or _by_shown_word(key)
    if found is None:
        raise NoSuchMark(f"There is no mark for {str(word)!r}.")
    return found


def _by_shown_word(key: str) -> Mark | None:
    """The mark whose word in the language of the reader this is."""
    return next((mark for mark in _BY_WORD.values() if gettext(mark.word).casefold() == key), None)


@register.simple_tag
def mark(word: object) -> SafeString:
    """Shape and word, in one line: {% mark "Do not use" %}; also called by tables."""
    found = mark_of(word)
    return _in_line(found, gettext(found.word))


@cache
def _in_line(found: Mark, shown: str) -> SafeString:
    return format_html(
        '<span class="mark mark-{}">{}<span>{}</span></span>',
        found.tone,
        _drawn(found.shape),
        shown,
    )


@register.simple_tag
def caution(strength: str, words: str) -> SafeString:
    """A caution in its own frame: {% caution "Take care" "Belt can pull fingers in. …" %}.

    strength: "Stop", "Take care" or "Note".
    """
    found = mark_of(strength)
    frames = {"Stop": "stop", "Take care": "take-care", "Note": "note"}
    if found.word not in frames:
        raise NoSuchMark(f"A caution is Stop, Take care or Note, not {strength!r}.")
    return format_html(
        '<p class="{}">{}<span><strong>{}.</strong> {}</span></p>',
        frames[found.word],
        _drawn(found.shape),
        gettext(found.word),
        words,
    )


def _drawn(shape: str) -> SafeString:
    if not shape:
        return SafeString("")
    return mark_safe(  # noqa: S308 - our own constant, nothing that anybody typed
        f'<svg class="shape" viewBox="0 0 24 24" aria-hidden="true" focusable="false">{shape}</svg>'
    )
