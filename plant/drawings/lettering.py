"""The faces that drawings and sheets are lettered in, registered under names of our own."""

from functools import lru_cache
from pathlib import Path

import fontpkg
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

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
        pdfmetrics.registerFont(TTFont(name, str(path)))
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
    register()
    return float(pdfmetrics.stringWidth(words, face, size))
