"""The furniture of a sheet for papers that are set as a story of flowables, page after page.

A sheet that must stay on one leaf is laid out by reports.pdf.pieces; what is drawn is the same.
"""

from typing import Any

from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from plant.drawings import strokes
from reports.pdf import furniture
from reports.pdf.fonts import MONO, SANS, SANS_BOLD, register, text
from reports.pdf.page import WIDTH
from reports.pdf.pen import Pen
from reports.pdf.pieces import Piece

register()

BOX_HEIGHT = furniture.BOX_HEIGHT
HAIR = THIN = strokes.THIN

BODY = ParagraphStyle("body", fontName=SANS, fontSize=8.8, leading=11, splitLongWords=1)
STRONG = ParagraphStyle("strong", parent=BODY, fontName=SANS_BOLD)
FIGURE = ParagraphStyle("figure", parent=BODY, fontName=MONO, fontSize=8.4)
FIGURE_RIGHT = ParagraphStyle("figure right", parent=FIGURE, alignment=TA_RIGHT)
SMALL = ParagraphStyle("small", parent=BODY, fontSize=7.4, leading=9)
NOTE = ParagraphStyle("note", parent=SMALL, fontSize=7, leading=8.4)
HEAD = ParagraphStyle("head", parent=SMALL, fontName=SANS_BOLD)
HEAD_CENTRE = ParagraphStyle("head centre", parent=HEAD, alignment=TA_CENTER)
HEAD_RIGHT = ParagraphStyle("head right", parent=HEAD, alignment=TA_RIGHT)

# The start of every table of ours: no padding, text at the top.
BARE: list[tuple[Any, ...]] = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]


def body(words: str, *, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of typed text, printed as typed."""
    return Paragraph(text(words, face=style.fontName), style)


class Flow(Flowable):
    """A piece as a flowable."""

    def __init__(self, piece: Piece) -> None:
        super().__init__()
        self.piece = piece
        self.width, self.height = piece.width, piece.height

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        self.piece.put(Pen(self.canv), 0, 0)


class Heading(Flow):
    """A section's heading; see furniture.Heading."""

    def __init__(self, words: str, *, remark: str = "", width: float = WIDTH) -> None:
        super().__init__(furniture.Heading(words, remark=remark, width=width))
        self.spaceBefore = 3
        self.keepWithNext = 1


class CautionLine(Flow):
    """A caution as wide as it is given; see furniture.CautionLine."""

    def __init__(self, *, strength: str, words: str) -> None:
        self._told = strength, words
        self._wide(WIDTH)

    def _wide(self, width: float) -> None:
        strength, words = self._told
        super().__init__(furniture.CautionLine(strength=strength, words=words, width=width))

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        if available_width != self.width:
            canvas = getattr(self, "canv", None)
            self._wide(available_width)
            if canvas is not None:
                self.canv = canvas
        return self.width, self.height


def draw_tick(canvas: Canvas, *, side: float, ticked: bool, crossed: bool) -> None:
    """A tick or a cross in a square of this side [pt] at the origin."""
    canvas.saveState()
    furniture.draw_tick(Pen(canvas), 0, 0, side=side, ticked=ticked, crossed=crossed)
    canvas.restoreState()
