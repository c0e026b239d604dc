"""The list of rights: people and roles by depot, to be read, put right and signed once a year."""

from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer, Table

from plant.drawings.strokes import THIN
from plant.translate import gettext as _
from reports.pdf.boxes import BARE, HEAD, HEAD_CENTRE, NOTE, SMALL, STRONG, Heading, body
from reports.pdf.fonts import register
from reports.pdf.page import WIDTH, Printed, Running, build_counted

register()

_ROLE_WIDTH = 17 * mm
_LAST_WIDTH = 21 * mm
_CODES_WIDTH = 14 * mm
_LINE = 13 * mm


@dataclass(frozen=True)
class Line:
    """One person at one depot: held says for each role whether they have it there."""

    name: str
    sign_in: str
    held: tuple[bool, ...]
    learner: bool
    codes: bool
    last: str


@dataclass(frozen=True)
class Part:
    """One depot: who has a role there, and who had one and has left."""

    depot: str
    lines: tuple[Line, ...]
    left: tuple[str, ...] = ()


@dataclass(frozen=True)
class RightsList:
    """The whole list; every text is ready to print. day: the day it tells of."""

    printed: Printed
    day: str
    codes: str
    roles: tuple[str, ...]
    parts: tuple[Part, ...]


def render(told: RightsList) -> bytes:
    """Draws the list on as many pages of A4 as it takes.

    Returns:
        A PDF; equal lists give equal bytes.
    """
    running = Running(
        title=_("List of rights"),
        subject=_("as on {day}").format(day=told.day),
        printed=told.printed,
    )
    story: list[Flowable] = [
        body(
            _(
                "Who may do what by which role stands on the "
                "page “What each role may do”. Strike out "
                "what is wrong, have it put right, then sign."
            ),
            style=SMALL,
        ),
        body(told.codes, style=SMALL),
    ]
    for part in told.parts:
        story += [Spacer(0, 4 * mm), *_part(part, told.roles)]
    story += [Spacer(0, 6 * mm), KeepTogether(_signed())]
    return build_counted(story, running=running)[0]


def _part(part: Part, roles: tuple[str, ...]) -> list[Flowable]:
    people = (
        "1 person" if len(part.lines) == 1 else _("{count} people").format(count=len(part.lines))
    )
    found: list[Flowable] = [Heading(part.depot, remark=people)]
    if not part.lines:
        return [*found, body(_("Nobody has a role here."), style=SMALL)]
    name_width = WIDTH - len(roles) * _ROLE_WIDTH - _CODES_WIDTH - _LAST_WIDTH
    rows = [
        [
            body(_("Name, sign-in name"), style=HEAD),
            *(body(role, style=HEAD_CENTRE) for role in roles),
            body(_("Codes"), style=HEAD_CENTRE),
            body(_("Last sign-in"), style=HEAD),
        ]
    ]
    centre = HEAD_CENTRE
    for line in part.lines:
        learner = ", learner" if line.learner else ""
        rows.append(
            [
                [body(line.name, style=STRONG), body(f"{line.sign_in}{learner}", style=NOTE)],  # type: ignore[list-item]
                *(
                    body("yes" if has else "-", style=centre if has else _QUIET)
                    for has in line.held
                ),
                body("yes" if line.codes else "-", style=centre if line.codes else _QUIET),
                body(line.last, style=SMALL),
            ]
        )
    table = Table(
        rows,
        colWidths=[name_width, *[_ROLE_WIDTH] * len(roles), _CODES_WIDTH, _LAST_WIDTH],
        repeatRows=1,
    )
    table.setStyle(
        [
            *BARE,
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ("LINEBELOW", (0, 0), (-1, -1), THIN, (0, 0, 0)),
        ]
    )
    found.append(table)
    if part.left:
        found.append(body(_("Have left: {left}.").format(left=", ".join(part.left)), style=NOTE))
    return found


_QUIET = HEAD_CENTRE.clone("quiet centre", fontName=SMALL.fontName)


def _signed() -> list[Flowable]:
    """What is declared, and lines long enough for a name, a signature and a date."""
    words = _(
        "I have read this list. Everybody on it is here, needs these roles, and has no more than "
        "they need. What I struck out is to be put right."
    )
    heads = [body(each, style=NOTE) for each in (_("Name and role"), _("Signature"), _("Date"))]
    table = Table([["", "", ""], heads], colWidths=[0.4 * WIDTH, 0.4 * WIDTH, 0.2 * WIDTH],
                  rowHeights=[_LINE, None])  # fmt: skip
    table.setStyle([*BARE, ("LINEBELOW", (0, 0), (-1, 0), THIN, (0, 0, 0))])
    return [body(words, style=SMALL), table]
