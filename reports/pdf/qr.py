"""QR codes on paper, drawn bar by bar."""

from reportlab.lib.units import mm

from plant.drawings.qr import QUIET, Rows, rows_of, runs
from reports.pdf.boxes import Flow
from reports.pdf.pen import Pen
from reports.pdf.pieces import Piece


def draw_rows(pen: Pen, rows: Rows, *, x: float, y: float, module: float) -> None:
    """The code with its quiet zone, its lower left corner at a point, its squares so wide [pt]."""
    top = y + (len(rows) + 2 * QUIET) * module
    pen.bars(
        [
            (
                x + (QUIET + start) * module,
                top - (QUIET + number + 1) * module,
                (end - start) * module,
                module,
            )
            for number, row in enumerate(rows)
            for start, end in runs(row)
        ]
    )


class QrPiece(Piece):
    """A QR code of the given side, its quiet zone within that side."""

    def __init__(self, payload: str, *, side: float = 24 * mm, error: str = "m") -> None:
        """Args: payload: what a reader gets; side: [pt] outer size; error: see rows_of."""
        self.width = self.height = side
        self._rows = rows_of(payload, error=error)

    def put(self, pen: Pen, x: float, y: float) -> None:
        module = self.width / (len(self._rows) + 2 * QUIET)
        draw_rows(pen, self._rows, x=x, y=y, module=module)


class QrCode(Flow):
    """The code for a story of flowables."""

    def __init__(self, payload: str, *, side: float = 24 * mm, error: str = "m") -> None:
        super().__init__(QrPiece(payload, side=side, error=error))
