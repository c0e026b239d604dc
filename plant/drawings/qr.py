"""A QR code: its squares, and as SVG dark on white in every scheme, since cameras read it so."""

from functools import lru_cache
from html import escape
from itertools import chain
from typing import Any, NamedTuple

import segno

QUIET = 4  # modules of white round the code: ISO/IEC 18004, quiet zone

Rows = tuple[bytes, ...]


@lru_cache(maxsize=4096)  # a depot prints the codes of the same machines each week
def rows_of(payload: str, *, error: str = "m") -> Rows:
    """The squares of the code, row by row, 1 for a dark one.

    Args:
        payload: what a reader gets.
        error: level of correction: "m" for clean paper; "q" gives back a quarter of the code, for
            what hangs in the dirt.
    """
    code = segno.make(payload, error=error, micro=False, mask=0)
    size = len(code.matrix)
    if size > _LARGEST:
        return tuple(map(bytes, segno.make(payload, error=error, micro=False).matrix))
    given = (size, code.error)
    if given not in _MASKS:
        _MASKS[given] = [
            _Bits.of(segno.make(payload, error=error, micro=False, mask=mask).matrix).over(code)
            for mask in range(8)
        ]
    plain, least, found = _Bits.of(code.matrix), None, 0
    said = _said(size)
    for mask in _MASKS[given]:
        rows, columns = plain.rows ^ mask.rows, plain.columns ^ mask.columns
        points = _points(rows & ~said.rows, columns & ~said.columns, size)
        if least is None or points < least:
            least, found = points, rows
    text = f"{found:0{size * size}b}"[::-1].encode().translate(_SQUARES)
    return tuple(text[start : start + size] for start in range(0, size * size, size))


# A code of more squares a side than this also says its size, in squares of its own.
_LARGEST = 41
_DIGITS = bytes.maketrans(b"\0\1", b"01")
_SQUARES = bytes.maketrans(b"01", b"\0\1")


class _Bits(NamedTuple):
    """All squares of a code as one number, the first square its lowest bit: row by row, and column
    by column."""

    rows: int
    columns: int

    @classmethod
    def of(cls, matrix: Any) -> "_Bits":
        columns = chain.from_iterable(zip(*matrix, strict=True))
        return cls(_number(b"".join(matrix)), _number(bytes(columns)))

    def over(self, code: Any) -> "_Bits":
        """What must be turned over in that code to get this one."""
        other = _Bits.of(code.matrix)
        return _Bits(self.rows ^ other.rows, self.columns ^ other.columns)


# By side and level of correction: what each of the eight masks turns over in a code of the first
# mask. It is the same whatever the code says.
_MASKS: dict[tuple[int, str], list[_Bits]] = {}


def _number(squares: bytes) -> int:
    return int(squares.translate(_DIGITS)[::-1], 2)


@lru_cache
def _said(size: int) -> _Bits:
    """The squares that say which mask it is; they count as light when masks are compared."""
    matrix = [bytearray(size) for _ in range(size)]
    for at in (*range(6), 7, 8, *range(size - 8, size)):
        matrix[at][8] = matrix[8][at] = 1
    return _Bits.of(matrix)


def _points(rows: int, columns: int, size: int) -> int:
    """How hard a code is for a camera (ISO/IEC 18004:2015, 7.8.3.1, table 11)."""
    everywhere = (1 << size * size) - 1
    inner = _inner(size)
    across = ~(rows ^ rows >> 1) & inner
    down = ~(rows ^ rows >> size) & everywhere >> size
    blocks = across & down & across >> size
    share = rows.bit_count() / (size * size)
    return (
        _in_line(rows, size)
        + _in_line(columns, size)
        + 3 * blocks.bit_count()
        + 10 * int(abs(share * 100 - 50) / 5)
    )


@lru_cache
def _inner(size: int) -> int:
    """Every square that has one after it in its row."""
    return sum(((1 << size - 1) - 1) << size * row for row in range(size))


def _in_line(bits: int, size: int) -> int:
    """Runs of five or more of one shade, and what looks like the eye of a code, in all rows."""
    same = ~(bits ^ bits >> 1) & _inner(size)
    fives = same & same >> 1 & same >> 2 & same >> 3
    points = fives.bit_count() + 2 * (fives & ~(fives << 1)).bit_count()
    eyes = bits & ~(bits >> 1) & bits >> 2 & bits >> 3 & bits >> 4 & ~(bits >> 5) & bits >> 6
    taken = -1
    while eyes:
        at = (eyes & -eyes).bit_length() - 1
        eyes &= eyes - 1
        row, begin = divmod(at, size)
        if begin > size - 7 or at < taken:
            continue
        line = bits >> row * size & (1 << size) - 1
        before = line & (1 << begin) - 1 & ~((1 << max(begin - 4, 0)) - 1)
        after = line >> begin + 7 & 15
        if begin in (0, size - 7) or not before or not after:
            points += 40
            taken = at + 7
        else:
            taken = at + 4
    return points


def runs(row: bytes) -> list[tuple[int, int]]:
    """Where dark squares begin and end; one bar for each run, so that no hair line shows."""
    found, start = [], None
    for at, dark in enumerate([*row, 0]):
        if dark and start is None:
            start = at
        elif not dark and start is not None:
            found.append((start, at))
            start = None
    return found


def qr_svg(payload: str, *, title: str) -> str:
    """The code as one svg element that a strict content security policy accepts."""
    rows = rows_of(payload)
    side = len(rows) + 2 * QUIET
    bars = "".join(
        f"M{QUIET + start} {QUIET + number}h{end - start}v1h-{end - start}z"
        for number, row in enumerate(rows)
        for start, end in runs(row)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" role="img" '
        f'aria-label="{escape(title)}"><rect width="{side}" height="{side}" fill="#fff"/>'
        f'<path d="{bars}" fill="#000" shape-rendering="crispEdges"/></svg>'
    )
