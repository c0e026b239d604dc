"""A QR code: its squares, and as SVG dark on white in every scheme, since cameras read it so."""

from functools import lru_cache
from html import escape

import segno

QUIET = 4  # modules of white round the code: ISO/IEC 18004, quiet zone

Rows = tuple[bytes, ...]


@lru_cache(maxsize=64)
def rows_of(payload: str, *, error: str = "m") -> Rows:
    """The squares of the code, row by row, 1 for a dark one.

    Args:
        payload: what a reader gets.
        error: level of correction: "m" for clean paper; "q" gives back a quarter of the code, for
            what hangs in the dirt.
    """
    return tuple(bytes(row) for row in segno.make(payload, error=error, micro=False).matrix)


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
