"""The rating plate: the riveted plate that opens every sheet."""

from dataclasses import dataclass

from plant.drawings.strokes import THIN
from plant.translate import gettext
from reports.pdf.boxes import Flow
from reports.pdf.fonts import MONO, MONO_BOLD, SANS_BOLD, face_for, plain, width_of
from reports.pdf.page import engraved
from reports.pdf.pen import Pen
from reports.pdf.pieces import Piece, Style, Words, body


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
            PlateField(gettext("Maker and type"), self.maker_and_type),
            PlateField(gettext("Serial no."), self.serial),
            PlateField(gettext("Supply"), self.supply),
            PlateField(gettext("Power"), self.power),
            PlateField(gettext("Speed"), self.speed),
            PlateField(gettext("Mass"), self.mass),
            PlateField(gettext("Meter"), self.meter),
            PlateField(gettext("Depot"), self.depot),
        )
        return tuple(field for field in engraved + self.more if field.value)


class PlatePiece(Piece):
    """The plate drawn: rivets in the corners, the number stamped large, labels engraved.

    Long texts wrap and the plate grows; nothing is cut.
    """

    def __init__(self, plate: Plate, *, width: float, columns: int = 3) -> None:
        """Args: width: [pt] outer width; columns: of engraved labels beside the number."""
        self.width = width
        stamp_width = 0.3 * (width - 2 * _EDGE)
        size = _stamp_size(plate.number, room=stamp_width)
        number = Style(face=face_for(plate.number), size=size, leading=size * 1.22)
        kind = Style(face=SANS_BOLD, size=10, leading=12)
        self._stamp = [
            body(plate.number, style=number, width=stamp_width),
            body(plate.kind, style=kind, width=stamp_width),
        ]
        self._stamp_height = sum(part.height for part in self._stamp) + 2
        self._left = _EDGE + stamp_width + _GUTTER
        self._column = (width - self._left - _EDGE) / columns
        fields = plate.fields()
        rows = [fields[start : start + columns] for start in range(0, len(fields), columns)]
        self._rows: list[tuple[float, list[tuple[str, Words]]]] = []
        for row in rows:
            cells = [
                (field.label, body(field.value, style=_VALUE, width=self._column - 4))
                for field in row
            ]
            self._rows.append((max(cell.height for _, cell in cells) + _LABEL, cells))
        self._grid = sum(tall for tall, _ in self._rows) + _GAP * max(len(self._rows) - 1, 0)
        self._inner = max(self._stamp_height, self._grid)
        self.height = self._inner + 2 * _RISE

    def put(self, pen: Pen, x: float, y: float) -> None:
        pen.rounded(x + 0.6, y + 0.6, self.width - 1.2, self.height - 1.2, 7, weight=1.2)
        pen.rounded(x + 2.8, y + 2.8, self.width - 5.6, self.height - 5.6, 5, weight=THIN)
        for along in (8.6, self.width - 8.6):
            for up in (8.6, self.height - 8.6):
                pen.circle(x + along, y + up, 2.5, weight=0.7)
                pen.circle(x + along, y + up, 1.2, weight=THIN)
        level = y + self.height - _RISE - (self._inner - self._stamp_height) / 2
        for part in self._stamp:
            level -= part.height
            part.put(pen, x + _EDGE, level)
        left = x + self._left
        post = left - _GUTTER / 2
        pen.line(post, y + _RISE - 4, post, y + self.height - _RISE + 4, weight=THIN)
        level = y + self.height - _RISE - (self._inner - self._grid) / 2
        for number, (tall, cells) in enumerate(self._rows):
            if number:
                rule = level + _GAP / 2 - 0.6
                pen.line(left, rule, x + self.width - _EDGE, rule, weight=THIN)
            for column, (label, cell) in enumerate(cells):
                at = left + column * self._column
                words = plain(label, face=SANS_BOLD).upper()
                long = width_of(words, size=5.8, face=SANS_BOLD) + 0.45 * len(words)
                shrink = min(1.0, (self._column - 4) / long)
                size = 5.8 * shrink
                engraved(pen, words, x=at, y=level - 5.6, size=size, spacing=0.45 * shrink)
                cell.put(pen, at, level - _LABEL - cell.height)
            level -= tall + _GAP


_VALUE = Style(face=MONO, size=7.8, leading=9.2)
_EDGE = 16.0
_RISE = 8.0
_GUTTER = 14.0
_LABEL = 7.4
_GAP = 5.0


def _stamp_size(number: str, *, room: float) -> float:
    """The largest size [pt] at which the number stands in one line, but not below 13."""
    wide = width_of(number, size=1, face=MONO_BOLD)
    return min(27.0, max(13.0, room / wide if wide else 27.0))


class PlateBlock(Flow):
    """The plate for a story of flowables."""

    def __init__(self, plate: Plate, *, width: float, columns: int = 3) -> None:
        super().__init__(PlatePiece(plate, width=width, columns=columns))
