"""A QR code as a flowable, drawn square by square."""

import segno
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

QUIET = 4  # modules of white round the code: ISO/IEC 18004, quiet zone


class QrCode(Flowable):
    """A QR code of the given side, its quiet zone within that side."""

    def __init__(self, payload: str, *, side: float = 24 * mm) -> None:
        """Args: payload: what a reader gets; side: [pt] outer size."""
        super().__init__()
        self.width = side
        self.height = side
        self._rows = [bytes(row) for row in segno.make(payload, error="m", micro=False).matrix]

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        size = self.width / (len(self._rows) + 2 * QUIET)
        path = canvas.beginPath()
        for number, row in enumerate(self._rows):
            start = 0
            while start < len(row):
                if not row[start]:
                    start += 1
                    continue
                end = start
                while end < len(row) and row[end]:
                    end += 1
                # One bar for each run of dark squares, so that no hair line shows between them.
                path.rect(
                    (QUIET + start) * size,
                    self.height - (QUIET + number + 1) * size,
                    (end - start) * size,
                    size,
                )
                start = end
        canvas.drawPath(path, stroke=0, fill=1)
