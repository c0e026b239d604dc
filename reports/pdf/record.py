"""The paper of one sealed record: a check, a look-over, an inspection, a release check or a test.

It is set smaller, step by step, until it stands on one page; what is longer goes on a second page
in letters that are easy to read, and says there that it goes on.
"""

from base64 import b64decode
from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any, Literal

from reportlab.lib.colors import Color, black, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, Paragraph, Spacer, Table, TableStyle
from reportlab.platypus.doctemplate import LayoutError

from plant.drawings.strokes import THIN
from plant.translate import gettext as _
from reports.pdf.boxes import BARE, BODY, HAIR, CautionLine, Heading, body, draw_tick
from reports.pdf.fonts import MONO, SANS_BOLD, text
from reports.pdf.page import HEIGHT, WIDTH, Printed, Running, build_counted
from reports.pdf.plate import Plate, PlateBlock, PlateField
from reports.pdf.qr import QrCode
from reports.pdf.service_sheet import Caution

# In parts of the usual size, and whether the lines stand in two columns; the smallest is 6.6 pt.
SETTINGS = ((1.0, False), (0.92, False), (0.92, True), (0.84, True), (0.75, True))
# For what needs a second page anyway.
LONG_SIZE = 0.92
# [pt] no letter is smaller, whatever the size.
LEAST_POINTS = 6.4


@dataclass(frozen=True)
class Item:
    """One question in the order asked.

    answer: "OK", "Wrong", "Could not check" or "None on it"; word: what was said of it; figure:
    with its unit; limit: with its unit and its source; photo: the number of its photo, or "".
    """

    asked: str
    answer: str
    word: str = ""
    figure: str = ""
    limit: str = ""
    group: str = ""
    photo: str = ""


@dataclass(frozen=True)
class Photo:
    """A photo made small. jpeg: in base 64, or "" where there is none any more; why: says so."""

    number: str
    of: str
    jpeg: str = ""
    why: str = ""


@dataclass(frozen=True)
class Measured:
    """One reading: what, the figure with its unit, the limit, where the limit is from, and "OK",
    "Wrong" or "Could not check"."""

    what: str
    reading: str
    limit: str
    source: str
    result: str


@dataclass(frozen=True)
class FaultFound:
    """Something wrong: what, and under it what was decided, the job and what was done, each with
    its label."""

    what: str
    told: tuple[PlateField, ...] = ()


@dataclass(frozen=True)
class Corrected:
    """One correction: what, as it was and as it is now, by whom and when, why, its record."""

    what: str
    was: str
    now: str
    who: str
    why: str
    record: str


@dataclass(frozen=True)
class Due:
    """Work that falls due: "Service A", "4 May 2027 or 171.5 h", "Not due yet"."""

    what: str
    due: str
    state: str


@dataclass(frozen=True)
class RecordPaper:
    """The paper of one record; every text is ready to print.

    title: "Pre-use check"; number: of the record; weight: how the answer stands on the page;
    answer, because: the outcome, and sentences under it; items, measured: what was asked;
    bench: instrument, lead and device, by label; no_faults: said where there are none;
    signed: who, and with what competence; coming: what is next; hash: all 64 digits;
    sealed_at: the address where anybody asks whether it is as sealed; link: that with this record.
    """

    title: str
    number: str
    plate: Plate
    printed: Printed
    weight: Literal["stop", "care", "plain"]
    answer: str
    because: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    items: tuple[Item, ...] = ()
    photos: tuple[Photo, ...] = ()
    nothing_coming: str = ""
    bench: tuple[PlateField, ...] = ()
    measured: tuple[Measured, ...] = ()
    facts: tuple[PlateField, ...] = ()
    faults: tuple[FaultFound, ...] = ()
    no_faults: str = ""
    words: tuple[PlateField, ...] = ()
    signed: tuple[PlateField, ...] = ()
    coming: tuple[Due, ...] = ()
    corrections: tuple[Corrected, ...] = ()
    hash: str = ""
    sealed_at: str = ""
    link: str = ""
    defer: str = field(
        default_factory=lambda: _(
            "It tells what was found on that day and is no leave to use the machine: check it "
            "before each use. It gives way to the maker's handbook, the law, local rules and "
            "licensed practice where you are."
        )
    )


def render(paper: RecordPaper) -> bytes:
    """Draws the record on one page of A4 where that can be read, else on as many as it needs.

    Returns:
        A PDF; equal papers give equal bytes.
    """
    running = Running(
        title=f"{paper.title} {paper.number}".strip(),
        subject=f"{paper.plate.number}, {paper.plate.kind}",
        printed=paper.printed,
    )
    for size, dense in SETTINGS:
        story = _Setting(size, dense=dense).story(paper)
        # Measured before it is drawn, since drawing costs most of the time.
        if sum(part.wrap(WIDTH, HEIGHT)[1] for part in story) > HEIGHT:
            continue
        try:
            data, pages = build_counted(story, running=running)
        except LayoutError:
            continue  # two columns cannot go on overleaf
        if pages == 1:
            return data
    return build_counted(_Setting(LONG_SIZE).story(paper), running=running)[0]


class _Part(Heading):
    """The heading of a part; it knows its words, to be set anew in a column."""

    def __init__(self, words: str, *, width: float = WIDTH) -> None:
        super().__init__(words, width=width)
        self.words = words


class _Setting:
    """The paper in one size of letters; dense: in two columns, for one page alone."""

    def __init__(self, size: float, *, dense: bool = False) -> None:
        self.size = size
        self.dense = dense
        self.body = self._style("record", BODY.fontName, 8.8)
        self.strong = self._style("record strong", SANS_BOLD, 8.8)
        self.small = self._style("record small", BODY.fontName, 8.0)
        self.head = self._style("record head", SANS_BOLD, 7.6)
        self.figure = self._style("record figure", MONO, 8.2)
        self.pad = 1.6 * size

    def _style(self, name: str, face: str, points: float, **more: Any) -> ParagraphStyle:
        points = max(points * self.size, LEAST_POINTS)
        return ParagraphStyle(
            name, parent=BODY, fontName=face, fontSize=points, leading=points * 1.2, **more
        )

    def story(self, paper: RecordPaper) -> list[Flowable]:
        # Without readings it is a line or two, which have room in a column.
        last_test = self._measured(paper) if self.dense and not paper.measured else []
        parts: tuple[list[Flowable], ...] = (
            [PlateBlock(paper.plate, width=WIDTH)],
            [self._answer(paper)],
            self._cautions(paper),
            self._asked(paper),
            [] if last_test else self._measured(paper),
            self._faults(paper),
            *self._beside(
                (
                    self._pairs(_("What was told"), paper.facts + paper.words),
                    self._pairs(_("Signed by"), paper.signed),
                ),
                (self._coming(paper), self._corrections(paper), last_test),
            ),
            self._seal(paper),
        )
        story: list[Flowable] = []
        for part in filter(None, parts):
            story += [*part, Spacer(0, 5 * self.size)]
        return story[:-1]

    def _beside(
        self, left: Sequence[list[Flowable]], right: Sequence[list[Flowable]]
    ) -> list[list[Flowable]]:
        """Parts under each other, or in two columns where it is dense."""
        if not self.dense:
            return [*left, *right]
        half = (WIDTH - _GUTTER) / 2
        columns = [[flowable for part in parts for flowable in part] for parts in (left, right)]
        columns = [
            [_Part(each.words, width=half) if isinstance(each, _Part) else each for each in column]
            for column in columns
        ]
        return [[_side_by_side(columns[0], columns[1], width=half)]]

    def _answer(self, paper: RecordPaper) -> Flowable:
        stop = paper.weight == "stop"
        colour = white if stop else black
        head = self._style("record answer", SANS_BOLD, 15, textColor=colour)
        small = self._style("record because", SANS_BOLD, 8.8, textColor=colour)
        words = [body(paper.answer, style=head), *(body(w, style=small) for w in paper.because)]
        # A row a sentence, so that a band which is longer than the page goes on overleaf.
        band = Table([[each] for each in words], colWidths=[WIDTH])
        style: list[tuple[Any, ...]] = [
            ("LEFTPADDING", (0, 0), (-1, -1), 8),
            ("RIGHTPADDING", (0, 0), (-1, -1), 8),
            ("TOPPADDING", (0, 0), (-1, -1), 0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
            ("TOPPADDING", (0, 0), (-1, 0), 3),
            ("BOTTOMPADDING", (0, -1), (-1, -1), 5),
            ("BOX", (0, 0), (-1, -1), 2.4 if paper.weight == "care" else 0.8, black),
        ]
        if stop:
            style.append(("BACKGROUND", (0, 0), (-1, -1), black))
        band.setStyle(TableStyle(style))
        return band

    def _cautions(self, paper: RecordPaper) -> list[Flowable]:
        return [CautionLine(strength=each.strength, words=each.words) for each in paper.cautions]

    # What was asked, with the photos at its right.

    def _asked(self, paper: RecordPaper) -> list[Flowable]:
        if not paper.items:
            return [*_headed(_("Photos"), self._gallery(paper.photos))] if paper.photos else []
        story: list[Flowable] = [_Part(_("What was looked at, in the order asked"))]
        groups = _by_group(paper.items)
        if not paper.photos:
            set_in = self._in_two if self.dense else self._items
            return [*story, set_in(groups, width=WIDTH)]
        gallery = self._gallery(paper.photos)
        wide, tall = gallery.wrap(WIDTH, 1e6)
        left = WIDTH - wide - 4 * mm
        if self.dense:
            return [*story, _beside_photos(self._in_two(groups, width=left), gallery, left, wide)]
        beside = 0
        while beside < len(groups):
            beside += 1
            if self._items(groups[:beside], width=left).wrap(left, 1e6)[1] >= tall:
                break
        first = self._items(groups[:beside], width=left)
        story.append(_beside_photos(first, gallery, left, wide))
        if groups[beside:]:
            # Under the photos there is the whole width.
            story.append(self._items(groups[beside:], width=WIDTH, headed=False))
        return story

    def _in_two(self, groups: "Sequence[_Numbered]", *, width: float) -> Table:
        """The items in two columns of about one height, read down the left one first."""
        half = (width - _GUTTER) / 2

        def tall(most: int) -> float:
            parts = (groups[:most], groups[most:])
            return max(self._short(p, width=half).wrap(half, 1e6)[1] if p else 0 for p in parts)

        middle = (len(groups) + 1) // 2
        most = min(range(max(1, middle - 4), min(len(groups), middle + 4) + 1), key=tall)
        left, right = (
            self._short(part, width=half) if part else Spacer(0, 0)
            for part in (groups[:most], groups[most:])
        )
        return _side_by_side([left], [right], width=half)

    def _short(self, groups: "Sequence[_Numbered]", *, width: float) -> Table:
        """Items with their word and figure under what was asked."""
        number, mark = 5 * mm, 14 * mm
        rows: list[list[Any]] = []
        style: list[tuple[Any, ...]] = [*BARE, *self._lined()]
        for each in groups:
            if each.opens:
                style += _spanned(len(rows))
                rows.append([body(each.item.group, style=self.head), "", ""])
            rows.append(
                [
                    body(each.number, style=self.small),
                    [body(each.item.asked, style=self.body), *self._in_short(each.item)],
                    AnswerMark(each.item.answer, style=self.strong, width=mark - 2),
                ]
            )
        table = Table(rows, colWidths=[number, width - number - mark, mark], hAlign="LEFT")
        table.setStyle(TableStyle(style))
        return table

    def _items(
        self, groups: "Sequence[_Numbered]", *, width: float, headed: bool = True
    ) -> "_Continuing":
        number, mark = 6 * mm, 30 * mm * max(self.size, 0.84)
        rest = width - number - mark
        heads = ("", _("Asked"), _("Found"), _("In a word; figure, limit and its source"))
        rows: list[list[Any]] = []
        style: list[tuple[Any, ...]] = [*BARE, *self._lined()]
        if headed:
            rows.append([body(each, style=self.head) for each in heads])
        for each in groups:
            if each.opens:
                style += [
                    *_spanned(len(rows)),
                    ("TOPPADDING", (0, len(rows)), (-1, len(rows)), self.pad + 1),
                    ("NOSPLIT", (0, len(rows)), (-1, len(rows) + 1)),
                ]
                rows.append([body(each.item.group, style=self.head), "", "", ""])
            rows.append(
                [
                    body(each.number, style=self.small),
                    body(each.item.asked, style=self.body),
                    AnswerMark(each.item.answer, style=self.strong, width=mark - 4),
                    self._found(each.item),
                ]
            )
        table = _Continuing(
            rows,
            colWidths=[number, 0.56 * rest, mark, 0.44 * rest],
            repeatRows=int(headed),
            hAlign="LEFT",
        )
        table.goes_on = body(_("What was looked at, continued"), style=self.head)
        table.setStyle(TableStyle(style))
        return table

    def _found(self, item: Item) -> list[Flowable]:
        """The figure first, then the word; the limit with its source; which photo shows it."""
        found: list[Flowable] = []
        if item.figure:
            found.append(body(item.figure, style=self.figure))
        if item.word:
            found.append(body(item.word, style=self.body))
        if item.limit:
            found.append(body(_("Limit: {limit}").format(limit=item.limit), style=self.small))
        if item.photo:
            found.append(body(_("Photo {photo}").format(photo=item.photo), style=self.small))
        return found

    def _in_short(self, item: Item) -> list[Flowable]:
        """The same in one paragraph."""
        photo = _("photo {photo}").format(photo=item.photo) if item.photo else ""
        limit = f"limit: {item.limit}" if item.limit else ""
        found = "; ".join(filter(None, (item.figure, item.word, limit, photo)))
        return [body(f"{found[:1].upper()}{found[1:]}", style=self.small)] if found else []

    def _gallery(self, photos: Sequence[Photo]) -> Table:
        """The photos, two beside each other where there are more than three."""
        across = 2 if len(photos) > 3 and not self.dense else 1
        side = (19 if self.dense else 25) * mm
        cells = [
            [
                Thumbnail(each.jpeg, width=side, height=side * 0.78),
                body(
                    " ".join(filter(None, (f"Photo {each.number}: {each.of}.", each.why))),
                    style=self.small,
                ),
            ]
            for each in photos
        ]
        rows: list[list[Any]] = [cells[n : n + across] for n in range(0, len(cells), across)]
        rows[-1] += [""] * (across - len(rows[-1]))
        table = Table(rows, colWidths=[side + 2 * mm] * across)
        table.setStyle(TableStyle([*BARE, ("BOTTOMPADDING", (0, 0), (-1, -1), 3)]))
        return table

    # Figures, facts and what came of it.

    def _measured(self, paper: RecordPaper) -> list[Flowable]:
        if not paper.measured:
            return self._pairs(_("Electrical"), paper.bench)
        heads = (_("Reading"), _("Figure"), _("Limit"), _("Where the limit is from"), _("Result"))
        rows: list[list[Any]] = [[body(each, style=self.head) for each in heads]]
        widths = [0.26 * WIDTH, 0.14 * WIDTH, 0.18 * WIDTH, 0.23 * WIDTH, 0.19 * WIDTH]
        rows += [
            [
                body(each.what, style=self.body),
                body(each.reading, style=self.figure),
                body(each.limit, style=self.body),
                body(each.source, style=self.small),
                AnswerMark(each.result, style=self.strong, width=widths[-1] - 4),
            ]
            for each in paper.measured
        ]
        table = _Continuing(rows, colWidths=widths, repeatRows=1)
        table.goes_on = body(_("Readings, continued"), style=self.head)
        table.setStyle(TableStyle([*BARE, *self._lined()]))
        return [*self._pairs(_("Electrical test"), paper.bench), Spacer(0, 3), table]

    def _pairs(self, heading: str, fields: Sequence[PlateField]) -> list[Flowable]:
        if not fields:
            return []
        return [_Part(heading), *(self._pair(each) for each in fields)]

    def _pair(self, field: PlateField) -> Paragraph:
        """Label and value as one paragraph, which may go on overleaf whatever its length."""
        style = ParagraphStyle("pair", parent=self.body, leftIndent=9, firstLineIndent=-9)
        return Paragraph(
            f'<font name="{SANS_BOLD}">{text(field.label, face=SANS_BOLD)}:</font> '
            f"{text(field.value)}",
            style,
        )

    def _faults(self, paper: RecordPaper) -> list[Flowable]:
        if not paper.faults:
            return self._said(_("Faults, and what was done"), paper.no_faults)
        story: list[Flowable] = [_Part(_("Faults, and what was done"))]
        for each in paper.faults:
            story.append(body(each.what, style=self.strong))
            if self.dense:
                told = ". ".join(f"{field.label}: {field.value}" for field in each.told)
                story.append(body(f"{told}.", style=self.body))
            else:
                story += [self._pair(field) for field in each.told]
        return story

    def _corrections(self, paper: RecordPaper) -> list[Flowable]:
        if not paper.corrections:
            return self._said(_("Corrections"), _("None up to the moment of printing."))
        story: list[Flowable] = [_Part(_("Corrections"))]
        for each in paper.corrections:
            story.append(
                body(
                    _("{what}, corrected in record {record}").format(
                        what=each.what, record=each.record
                    ),
                    style=self.strong,
                )
            )
            story += [
                self._pair(PlateField(_("Was"), each.was)),
                self._pair(PlateField(_("Is now"), each.now)),
                self._pair(PlateField(_("By"), each.who)),
                self._pair(PlateField(_("Why"), each.why)),
            ]
        return story

    def _coming(self, paper: RecordPaper) -> list[Flowable]:
        if not paper.coming:
            return self._said(_("Next due, as at the printing"), paper.nothing_coming)
        words = [
            f"{each.what}: {each.due}. {each.state}.".replace("..", ".") for each in paper.coming
        ]
        return [
            _Part(_("Next due, as at the printing")),
            *(body(each, style=self.body) for each in words),
        ]

    def _said(self, heading: str, words: str) -> list[Flowable]:
        return [_Part(heading), body(words, style=self.body)] if words else []

    def _seal(self, paper: RecordPaper) -> list[Flowable]:
        side = 22 * mm
        words: list[Flowable] = [
            body(_("Sealed as record {paper}").format(paper=paper.number), style=self.strong),
            body(_("Hash {hash}").format(hash=_in_fours(paper.hash)), style=self.figure),
        ]
        if paper.sealed_at:
            words.append(
                body(
                    _(
                        "Whether it is still as it was sealed: scan the code, or type "
                        "number and hash at {sealed_at}."
                    ).format(sealed_at=paper.sealed_at),
                    style=self.body,
                )
            )
        words.append(body(paper.defer, style=self.small))
        code = QrCode(paper.link, side=side) if paper.link else Spacer(0, 0)
        table = Table([[words, code]], colWidths=[WIDTH - side - 6, side + 6])
        table.setStyle(TableStyle([*BARE, ("ALIGN", (1, 0), (1, 0), "RIGHT")]))
        return [*_headed(_("Seal"), table)]

    def _lined(self) -> list[tuple[Any, ...]]:
        return [
            ("LINEBELOW", (0, 0), (-1, -1), HAIR, _GREY),
            ("LINEBELOW", (0, 0), (-1, 0), THIN, _GREY),
            ("TOPPADDING", (0, 0), (-1, -1), self.pad * 0.6),
            ("BOTTOMPADDING", (0, 0), (-1, -1), self.pad),
            ("RIGHTPADDING", (0, 0), (-2, -1), 4),
        ]


@dataclass(frozen=True)
class _Numbered:
    """An item with its number; opens: it is the first of its group."""

    number: str
    item: Item
    opens: bool


def _by_group(items: Sequence[Item]) -> list[_Numbered]:
    numbered, last = [], ""
    for number, item in enumerate(items, 1):
        numbered.append(_Numbered(str(number), item, bool(item.group) and item.group != last))
        last = item.group
    return numbered


def _headed(heading: str, part: Flowable) -> tuple[Flowable, Flowable]:
    return _Part(heading), part


def _in_fours(digits: str) -> str:
    return " ".join(digits[start : start + 4] for start in range(0, len(digits), 4))


def _spanned(row: int) -> list[tuple[Any, ...]]:
    """A row of one cell; the empty ones behind it would be as high as a line of 10 pt."""
    return [("SPAN", (0, row), (-1, row)), ("LEADING", (1, row), (-1, row), 1)]


def _side_by_side(left: Sequence[Flowable], right: Sequence[Flowable], *, width: float) -> Table:
    """Two columns of this width [pt] each."""
    table = Table([[list(left), list(right)]], colWidths=[width + _GUTTER, width], hAlign="LEFT")
    table.setStyle(TableStyle([*BARE, ("RIGHTPADDING", (0, 0), (0, 0), _GUTTER)]))
    return table


def _beside_photos(items: Flowable, photos: Flowable, left: float, wide: float) -> Table:
    table = Table([[items, photos]], colWidths=[left + 4 * mm, wide], hAlign="LEFT")
    table.setStyle(TableStyle(BARE))
    return table


_GUTTER = 5 * mm
_GREY = Color(0.45, 0.45, 0.45)


class _Continuing(Table):
    """A table that says overleaf that it goes on."""

    goes_on: Paragraph | None = None

    def onSplit(self, part: Any, byRow: int = 1) -> None:  # noqa: N802, N803  # ReportLab's names
        part.goes_on = self.goes_on

    def split(self, availWidth: float, availHeight: float) -> list[Any]:  # noqa: N803
        parts: list[Any] = super().split(availWidth, availHeight)
        if len(parts) == 2 and self.goes_on is not None:
            parts.insert(1, self.goes_on)
        return parts


class AnswerMark(Flowable):
    """An answer as a shape and as a word: tick, cross in black, question mark in a ring, stroke."""

    def __init__(self, answer: str, *, style: ParagraphStyle, width: float) -> None:
        super().__init__()
        self.width = width
        self._side = style.fontSize * 0.95
        self._answer = answer
        self._words = Paragraph(text(answer, face=style.fontName), style)
        self.height = max(self._words.wrap(width - self._side - 4, 1e6)[1], self._side)

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas, side = self.canv, self._side
        canvas.saveState()
        canvas.translate(0, self.height - side - 1)
        shape = self._answer.casefold()
        if shape == "ok":
            draw_tick(canvas, side=side, ticked=True, crossed=False)
        elif shape == "wrong":
            canvas.rect(0, 0, side, side, stroke=0, fill=1)
            canvas.setStrokeColor(white)
            canvas.setLineWidth(1.4)
            canvas.line(side * 0.25, side * 0.25, side * 0.75, side * 0.75)
            canvas.line(side * 0.25, side * 0.75, side * 0.75, side * 0.25)
        elif shape == "could not check":
            canvas.setLineWidth(0.8)
            canvas.circle(side / 2, side / 2, side / 2 - 0.4)
            canvas.setFont(SANS_BOLD, side * 0.8)
            canvas.drawCentredString(side / 2, side * 0.22, "?")
        else:
            canvas.setLineWidth(1.2)
            canvas.line(side * 0.15, side / 2, side * 0.85, side / 2)
        canvas.restoreState()
        self._words.drawOn(canvas, side + 4, self.height - self._words.height)


class Thumbnail(Flowable):
    """A small photo in a frame of this size [pt], whole; an empty frame where there is none."""

    def __init__(self, jpeg: str, *, width: float, height: float) -> None:
        super().__init__()
        self.width = width
        self.height = height
        self._image = ImageReader(BytesIO(b64decode(jpeg))) if jpeg else None

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        canvas.setLineWidth(HAIR)
        if self._image is not None:
            wide, tall = self._image.getSize()
            scale = min(self.width / wide, self.height / tall)
            canvas.drawImage(
                self._image,
                (self.width - wide * scale) / 2,
                (self.height - tall * scale) / 2,
                wide * scale,
                tall * scale,
            )
        canvas.rect(0, 0, self.width, self.height)
