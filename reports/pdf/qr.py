"""QR codes on paper, drawn bar by bar."""

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from plant.drawings.qr import QUIET, Rows, rows_of, runs


def draw_rows(canvas: Canvas, rows: Rows, *, x: float, y: float, module: float) -> None:
    """The code with its quiet zone, its lower left corner at a point, its squares so wide [pt]."""
    top = y + (len(rows) + 2 * QUIET) * module
    path = canvas.beginPath()
    for number, row in enumerate(rows):
        for start, end in runs(row):
            path.rect(
                x + (QUIET + start) * module,
                top - (QUIET + number + 1) * module,
                (end - start) * module,
                module,
            )
    canvas.drawPath(path, stroke=0, fill=1)


class QrCode(Flowable):
    """A QR code of the given side, its quiet zone within that side."""

    def __init__(self, payload: str, *, side: float = 24 * mm, error: str = "m") -> None:
        """Args: payload: what a reader gets; side: [pt] outer size; error: see rows_of."""
        super().__init__()
        self.width = side
        self.height = side
        self._rows = rows_of(payload, error=error)

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        module = self.width / (len(self._rows) + 2 * QUIET)
        draw_rows(self.canv, self._rows, x=0, y=0, module=module)
