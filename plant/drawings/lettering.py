"""The faces that drawings and sheets are lettered in, registered under names of our own."""

from collections.abc import Callable
from functools import cache, lru_cache
from pathlib import Path

import fontpkg
from reportlab.pdfbase import pdfmetrics

from plant.drawings.face import Face

SANS = "Handbook"
SANS_BOLD = "HandbookBold"
SANS_ITALIC = "HandbookItalic"
SANS_BOLD_ITALIC = "HandbookBoldItalic"
MONO = "Stamped"
MONO_BOLD = "StampedBold"

# Name, family, weight, style. The names stay: a name registered once keeps its first file.
_FACES = (
    (SANS, "fira-sans", 400, "normal"),
    (SANS_BOLD, "fira-sans", 600, "normal"),
    (SANS_ITALIC, "fira-sans", 400, "italic"),
    (SANS_BOLD_ITALIC, "fira-sans", 600, "italic"),
    (MONO, "ibm-plex-mono", 500, "normal"),
    (MONO_BOLD, "ibm-plex-mono", 700, "normal"),
)


@lru_cache(maxsize=1)
def register() -> None:
    """Makes the faces known to ReportLab; calling it again costs nothing."""
    for name, family, weight, style in _FACES:
        path: Path = fontpkg.path(family, weight=weight, style=style)
        pdfmetrics.registerFont(Face(name, str(path)))
    pdfmetrics.registerFontFamily(
        SANS,
        normal=SANS,
        bold=SANS_BOLD,
        italic=SANS_ITALIC,
        boldItalic=SANS_BOLD_ITALIC,
    )
    pdfmetrics.registerFontFamily(
        MONO, normal=MONO, bold=MONO_BOLD, italic=MONO, boldItalic=MONO_BOLD
    )


def width_of(words: str, *, size: float, face: str = SANS) -> float:
    """Width of a line of lettering.

    Args:
        words: the line.
        size: [pt] size of the letters.
        face: one of the names above.

    Returns:
        [pt] width.
    """
    widths = widths_of(face)
    return size * sum([widths[letter] for letter in words])


@cache
def widths_of(face: str) -> "Widths":
    """The widths of a face's letters, in parts of its size."""
    register()
    font = pdfmetrics.getFont(face)
    if not isinstance(font, Face):
        raise TypeError(f"{face} is not one of the embedded faces")
    return Widths(font)


class Widths(dict[str, float]):
    """The width of a letter in parts of the size, read from the face when first asked for."""

    def __init__(self, font: Face) -> None:
        super().__init__()
        self._width: Callable[[int], float] = font.face.getCharWidth

    def __missing__(self, letter: str) -> float:
        width = self[letter] = self._width(ord(letter)) / 1000
        return width
