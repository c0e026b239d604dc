"""The canvas of every paper of ours: while somebody practises it says so across each page."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from math import atan2, degrees, hypot

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from plant.translate import gettext as _
from plant.translate import gettext_noop
from reports.pdf.fonts import SANS_BOLD, register, width_of

ACROSS = gettext_noop("PRACTICE")
ABOVE = gettext_noop("PRACTICE: no real machine and no real record. Keep this with no papers.")
# A label has room for the first alone.
_LEAST_HEIGHT = 90 * mm
_practice: ContextVar[bool] = ContextVar("practice", default=False)


@contextmanager
def marked(*, practice: bool) -> Iterator[None]:
    """What is drawn inside is marked on every page, whichever paper it is."""
    before = _practice.set(practice)
    try:
        yield
    finally:
        _practice.reset(before)


class MarkedCanvas(Canvas):
    """A canvas that marks its pages where the paper comes out of practice."""

    def showPage(self) -> None:  # noqa: N802  # ReportLab's name
        if _practice.get():
            self._mark()
        super().showPage()

    def _mark(self) -> None:
        register()
        width, height = self._pagesize  # type: ignore[attr-defined]  # missing in the stubs
        self.saveState()
        if height >= _LEAST_HEIGHT:
            self.setFont(SANS_BOLD, 8.5)
            self.drawCentredString(width / 2, height - 9 * mm, _(ABOVE))
        self.translate(width / 2, height / 2)
        self.rotate(degrees(atan2(height, width)))
        size = 0.72 * hypot(width, height) / width_of(_(ACROSS), size=1, face=SANS_BOLD)
        size = min(size, 0.5 * height)
        # In outline, so that every figure under it can still be read, also as a copy of a copy.
        self.setFont(SANS_BOLD, size)
        self.setLineWidth(max(0.4, size / 120))
        self.setStrokeGray(0.4)
        self.drawCentredString(0, -0.35 * size, _(ACROSS), mode=1)
        self.restoreState()
