"""What a sheet draws, taken down once and put on a bare canvas of the library again.

The strokes and words of the pen are taken down with their places, and played back by the public
calls of reportlab.pdfgen.canvas on pages of the same size: no layout, no database, nothing that we
keep between sheets. The faces are the same files, registered as the library itself does. The
squares of the QR code are given with the rest; or the library works them out and draws them by its
own reportlab.graphics.barcode.qr, as a bare page must whose address nobody has worked out before.
"""

from collections.abc import Callable
from io import BytesIO
from typing import Any

from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing
from reportlab.lib.pagesizes import A4
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from plant.drawings.lettering import MONO, MONO_BOLD, SANS, SANS_BOLD, SANS_ITALIC
from reports.pdf.pen import Pen

Call = tuple[str, tuple[Any, ...], dict[str, Any]]
TAKEN = ("line", "path", "rect", "dotted", "bars", "circle", "rounded", "words")


def taken_down(draw: Callable[[], bytes]) -> list[list[Call]]:
    """Page by page the calls to the pen while a sheet is drawn; equal to what stands on paper."""
    pages: list[list[Call]] = []
    begun: list[int] = []
    true_init = Pen.__init__

    def begin(self: Pen, canvas: Canvas) -> None:
        true_init(self, canvas)
        pages.append([])
        begun.append(1)

    true: dict[str, Any] = {name: getattr(Pen, name) for name in TAKEN}

    def taking(name: str) -> Any:
        def call(self: Pen, *args: Any, **kwargs: Any) -> None:
            pages[-1].append((name, args, kwargs))
            true[name](self, *args, **kwargs)

        return call

    try:
        Pen.__init__ = begin  # type: ignore[method-assign]
        for name in TAKEN:
            setattr(Pen, name, taking(name))
        draw()
    finally:
        Pen.__init__ = true_init  # type: ignore[method-assign]
        for name, method in true.items():
            setattr(Pen, name, method)
    return pages


def library_faces() -> dict[str, str]:
    """The same files under other names, read and cut by the library alone."""
    names = {}
    for face in (SANS, SANS_BOLD, SANS_ITALIC, MONO, MONO_BOLD):
        ours: Any = pdfmetrics.getFont(face)
        names[face] = f"Bare{face}"
        pdfmetrics.registerFont(TTFont(names[face], ours.face.filename))
    return names


class Bare:
    """Plays the calls on a canvas of the library; states are set only when they change."""

    def __init__(self, canvas: Canvas, faces: dict[str, str], link: str) -> None:
        self.canvas, self.faces, self.link = canvas, faces, link
        self.state: tuple[Any, ...] = ()
        self.fill: float | None = None

    def strokes(self, weight: float, dash: Any, grey: float) -> None:
        if (weight, tuple(dash), grey) != self.state:
            self.state = (weight, tuple(dash), grey)
            self.canvas.setLineWidth(weight)
            self.canvas.setDash(list(dash))
            self.canvas.setStrokeGray(grey)

    def fills(self, grey: float) -> None:
        if grey != self.fill:
            self.fill = grey
            self.canvas.setFillGray(grey)

    def line(self, x1, y1, x2, y2, *, weight, dash=(), grey=0.0):  # type: ignore[no-untyped-def]
        self.strokes(weight, dash, grey)
        self.canvas.line(x1, y1, x2, y2)

    def path(self, points, *, weight=0.0, dash=(), grey=0.0, closed=False, fill=None):  # type: ignore[no-untyped-def]
        if weight:
            self.strokes(weight, dash, grey)
        if fill is not None:
            self.fills(fill)
        path = self.canvas.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        if closed:
            path.close()
        self.canvas.drawPath(path, stroke=int(bool(weight)), fill=int(fill is not None))

    def rect(self, x, y, width, height, *, weight):  # type: ignore[no-untyped-def]
        self.strokes(weight, (), 0.0)
        self.canvas.rect(x, y, width, height)

    def dotted(self, x, y, width, height, *, weight):  # type: ignore[no-untyped-def]
        self.strokes(weight, (0.9, 1.6), 0.0)
        self.canvas.rect(x, y, width, height)

    def bars(self, bars):  # type: ignore[no-untyped-def]
        if self.link:
            x, y = min(bar[0] for bar in bars), min(bar[1] for bar in bars)
            side = max(bar[0] + bar[2] for bar in bars) - x
            widget = QrCodeWidget(self.link, barLevel="M", barBorder=0)
            widget.barWidth = widget.barHeight = side
            code = Drawing(side, side)
            code.add(widget)
            renderPDF.draw(code, self.canvas, x, y)
            return
        self.fills(0.0)
        path = self.canvas.beginPath()
        for bar in bars:
            path.rect(*bar)
        self.canvas.drawPath(path, stroke=0, fill=1)

    def circle(self, x, y, radius, *, weight=0.0, dash=(), fill=None):  # type: ignore[no-untyped-def]
        if weight:
            self.strokes(weight, dash, 0.0)
        if fill is not None:
            self.fills(fill)
        self.canvas.circle(x, y, radius, stroke=int(bool(weight)), fill=int(fill is not None))

    def rounded(self, x, y, width, height, radius, *, weight):  # type: ignore[no-untyped-def]
        self.strokes(weight, (), 0.0)
        self.canvas.roundRect(x, y, width, height, radius)

    def words(self, runs, *, size, spacing=0.0, grey=0.0):  # type: ignore[no-untyped-def]
        self.fills(grey)
        text = self.canvas.beginText()
        if spacing:
            text.setCharSpace(spacing)
        face_now = ""
        for x, y, face, letters in runs:
            text.setTextOrigin(x, y)
            if face != face_now:
                text.setFont(self.faces[face], size)
                face_now = face
            text.textLine(letters)
        if spacing:
            text.setCharSpace(0)
        self.canvas.drawText(text)


def bare(pages: list[list[Call]], faces: dict[str, str], link: str = "") -> bytes:
    """The same strokes and words on a bare canvas, packed as ours is.

    Args:
        link: what the QR code says, for the library to work out; "" takes its squares as given.
    """
    file = BytesIO()
    canvas = Canvas(file, pagesize=A4, invariant=1, pageCompression=1)
    for calls in pages:
        player = Bare(canvas, faces, link)
        for name, args, kwargs in calls:
            getattr(player, name)(*args, **kwargs)
        canvas.showPage()
    canvas.save()
    return file.getvalue()
