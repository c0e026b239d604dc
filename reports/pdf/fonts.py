"""Letters on paper: the embedded faces, and the one way in for text that people typed."""

import unicodedata
from functools import cache, lru_cache
from xml.sax.saxutils import escape

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from plant.drawings.lettering import (
    MONO,
    MONO_BOLD,
    SANS,
    SANS_BOLD,
    SANS_BOLD_ITALIC,
    SANS_ITALIC,
    register,
    width_of,
)

__all__ = [
    "MONO",
    "MONO_BOLD",
    "SANS",
    "SANS_BOLD",
    "SANS_BOLD_ITALIC",
    "SANS_ITALIC",
    "capital_of",
    "face_for",
    "lettered",
    "plain",
    "register",
    "text",
    "width_of",
]


def lettered(words: str, *, face: str = SANS) -> list[list[tuple[str, str]]]:
    """Typed text as it prints: there is no markup, so what looks like some is lettering.

    A new line stays a new line, and a letter that the face does not hold prints as [U+0E01]
    rather than as nothing. The stamped face borrows from the other.

    Args:
        words: any text at all.
        face: the face that it is to be set in.

    Returns:
        Line by line, pieces with the face that holds them.
    """
    if words.isascii() and words.isprintable():
        return [[(face, words)]]
    lines: list[list[tuple[str, str]]] = []
    for line in _lines(words):
        pieces: list[tuple[str, str]] = []
        for letter in line:
            held_by = face if _holds(face, letter) or not _holds(SANS, letter) else SANS
            shown = letter if _holds(held_by, letter) else _named(letter)
            if pieces and pieces[-1][0] == held_by:
                pieces[-1] = (held_by, pieces[-1][1] + shown)
            else:
                pieces.append((held_by, shown))
        lines.append(pieces)
    return lines


def text(words: str, *, face: str = SANS) -> str:
    """The same as markup for a Paragraph of the library, with its lines broken where typed."""
    return "<br/>".join(
        "".join(
            escape(letters)
            if held_by == face
            else f'<font name="{held_by}">{escape(letters)}</font>'
            for held_by, letters in line
        )
        for line in lettered(words, face=face)
    )


def plain(words: str, *, face: str = SANS) -> str:
    """The same as one line in the one face, for lettering drawn straight on the page."""
    if words.isascii() and words.isprintable():
        return words
    return " ".join(
        "".join(letter if _holds(face, letter) else _named(letter) for letter in line)
        for line in _lines(words)
    )


def face_for(words: str, *, stamped: str = MONO_BOLD, other: str = SANS_BOLD) -> str:
    """The stamped face where it holds every letter, else the other one."""
    return stamped if all(_holds(stamped, letter) for letter in words) else other


def _lines(words: str) -> list[str]:
    return unicodedata.normalize("NFC", str(words)).replace("\t", " ").splitlines() or [""]


def _named(letter: str) -> str:
    return f"[U+{ord(letter):04X}]"


@lru_cache(maxsize=8192)
def _holds(face: str, letter: str) -> bool:
    # Marks that print as nothing, such as those that turn the reading direction, are named too.
    if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn"):
        return False
    return ord(letter) in _glyphs(face)


def capital_of(face: str) -> float:
    """The height of the capitals of a face, in parts of its size."""
    return float(_embedded(face).face.capHeight) / 1000


@cache
def _glyphs(face: str) -> frozenset[int]:
    return frozenset(_embedded(face).face.charToGlyph)


def _embedded(face: str) -> TTFont:
    register()
    font = pdfmetrics.getFont(face)
    if not isinstance(font, TTFont):
        raise TypeError(f"{face} is not one of the embedded faces")
    return font
