"""The rating plate: the riveted plate that opens every sheet."""

from dataclasses import dataclass

from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from reports.pdf.fonts import MONO, MONO_BOLD, SANS_BOLD, face_for, plain, text, width_of
from reports.pdf.page import engraved


@dataclass(frozen=True)
class PlateField:
    """One engraved label with its stamped figure."""

    label: str
    value: str


@dataclass(frozen=True)
class Plate:
    """What is stamped on the plate; an empty field is left off.

    number: the asset number, printed large; kind: "Cement mixer";
    maker_and_type: in words; serial, supply ("230 V, 50 Hz, 1 phase"), power ("0.75 kW"),
    speed ("1,420 rev/min"), mass ("68 kg"), meter ("168.0 h on 24 Nov 2026"), depot: with their
    units; more: any further labels, after the others.
    """

    number: str
    kind: str
    maker_and_type: str = ""
    serial: str = ""
    depot: str = ""
    supply: str = ""
    power: str = ""
    speed: str = ""
    mass: str = ""
    meter: str = ""
    more: tuple[PlateField, ...] = ()

    def fields(self) -> tuple[PlateField, ...]:
        """The fields that are filled, in the order in which they are engraved."""
        engraved = (
            PlateField("Maker and type", self.maker_and_type),
            PlateField("Serial no.", self.serial),
            PlateField("Supply", self.supply),
            PlateField("Power", self.power),
            PlateField("Speed", self.speed),
            PlateField("Mass", self.mass),
            PlateField("Meter", self.meter),
            PlateField("Depot", self.depot),
        )
        return tuple(field for field in engraved + self.more if field.value)


class PlateBlock(Flowable):
    """The plate drawn: rivets in the corners, the number stamped large, labels engraved.

    Long texts wrap and the plate grows; nothing is cut.
    """

    def __init__(self, plate: Plate, *, width: float, columns: int = 3) -> None:
        """Args: width: [pt] outer width; columns: of engraved labels beside the number."""
        super().__init__()
        self.width = width
        self._stamp_width = 0.3 * (width - 2 * _EDGE)
        number_size = _stamp_size(plate.number, room=self._stamp_width)
        face = face_for(plate.number)
        number_style = ParagraphStyle(
            "stamp", fontName=face, fontSize=number_size, leading=number_size * 1.22
        )
        kind_style = ParagraphStyle("kind", fontName=SANS_BOLD, fontSize=10, leading=12)
        self._stamp = [
            Paragraph(text(plate.number, face=face), number_style),
            Paragraph(text(plate.kind, face=SANS_BOLD), kind_style),
        ]
        self._stamp_height = sum(part.wrap(self._stamp_width, 1e6)[1] for part in self._stamp) + 2
        self._column = (width - 2 * _EDGE - self._stamp_width - _GUTTER) / columns
        value_style = ParagraphStyle("value", fontName=MONO, fontSize=7.8, leading=9.2)
        fields = plate.fields()
        rows = [fields[start : start + columns] for start in range(0, len(fields), columns)]
        self._rows: list[tuple[float, list[tuple[str, Paragraph]]]] = []
        for row in rows:
            cells = [
                (field.label, Paragraph(text(field.value, face=MONO), value_style)) for field in row
            ]
            tall = max(cell.wrap(self._column - 4, 1e6)[1] for _, cell in cells)
            self._rows.append((tall + _LABEL, cells))
        grid = sum(tall for tall, _ in self._rows) + _GAP * max(len(self._rows) - 1, 0)
        self._inner = max(self._stamp_height, grid)
        self.height = self._inner + 2 * _RISE

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        canvas.setLineWidth(1.2)
        canvas.roundRect(0.6, 0.6, self.width - 1.2, self.height - 1.2, 7)
        canvas.setLineWidth(0.35)
        canvas.roundRect(2.8, 2.8, self.width - 5.6, self.height - 5.6, 5)
        for x in (8.6, self.width - 8.6):
            for y in (8.6, self.height - 8.6):
                _rivet(canvas, x=x, y=y)
        y = self.height - _RISE - (self._inner - self._stamp_height) / 2
        for part in self._stamp:
            y -= part.height
            part.drawOn(canvas, _EDGE, y)
        left = _EDGE + self._stamp_width + _GUTTER
        canvas.line(left - _GUTTER / 2, _RISE - 4, left - _GUTTER / 2, self.height - _RISE + 4)
        grid = sum(tall for tall, _ in self._rows) + _GAP * max(len(self._rows) - 1, 0)
        y = self.height - _RISE - (self._inner - grid) / 2
        for number, (tall, cells) in enumerate(self._rows):
            if number:
                canvas.setLineWidth(0.35)
                canvas.line(left, y + _GAP / 2 - 0.6, self.width - _EDGE, y + _GAP / 2 - 0.6)
            for column, (label, cell) in enumerate(cells):
                x = left + column * self._column
                words = plain(label, face=SANS_BOLD).upper()
                long = width_of(words, size=5.8, face=SANS_BOLD) + 0.45 * len(words)
                shrink = min(1.0, (self._column - 4) / long)
                engraved(canvas, words, x=x, y=y - 5.6, size=5.8 * shrink, spacing=0.45 * shrink)
                cell.drawOn(canvas, x, y - _LABEL - cell.height)
            y -= tall + _GAP


_EDGE = 16.0
_RISE = 8.0
_GUTTER = 14.0
_LABEL = 7.4
_GAP = 5.0


def _stamp_size(number: str, *, room: float) -> float:
    """The largest size [pt] at which the number stands in one line, but not below 13."""
    wide = width_of(number, size=1, face=MONO_BOLD)
    return min(27.0, max(13.0, room / wide if wide else 27.0))


def _rivet(canvas: Canvas, *, x: float, y: float) -> None:
    canvas.setLineWidth(0.7)
    canvas.circle(x, y, 2.5)
    canvas.setLineWidth(0.35)
    canvas.circle(x, y, 1.2)
