"""A message as it is written: a frozen letter, drawn as plain text and as plain HTML."""

import unicodedata
from dataclasses import dataclass, field

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _


@dataclass(frozen=True)
class Line:
    """What it is about, why, what to do, and the page to do it on; no page where one act serves."""

    what: str
    why: str
    do: str
    address: str = ""


@dataclass(frozen=True)
class Part:
    """Lines under one heading; ``count`` is of all of them, ``all_at`` where the rest stands."""

    heading: str
    lines: tuple[Line, ...]
    count: int
    all_at: str = ""

    @property
    def more(self) -> int:
        return self.count - len(self.lines)


@dataclass(frozen=True)
class Letter:
    """One message. Nothing in it is markup; ``act`` is a button's words and its address."""

    subject: str
    opening: str
    parts: tuple[Part, ...] = ()
    act: tuple[str, str] | None = None
    closing: tuple[str, ...] = field(default=())


def address(name: str, *args: object, query: str = "") -> str:
    """The whole address of a page, as a mail program needs it."""
    return f"{settings.SITE_ADDRESS.rstrip('/')}{reverse(name, args=args)}{query}"


def one_line(text: str, *, longest: int = 200) -> str:
    """Words that people wrote, on one line and without what cannot be seen."""
    kept = "".join(" " if unicodedata.category(c)[0] in "CZ" else c for c in text)
    line = " ".join(kept.split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def plain(letter: Letter) -> str:
    """The letter as text: one thing under the other, each with its address."""
    told = [letter.opening]
    for part in letter.parts:
        told.append(f"{_(part.heading).upper()}: {part.count}")
        told += ["- " + "\n  ".join(filter(None, _told(line))) for line in part.lines]
        if part.more:
            told.append(_("  And {more} more: {all_at}").format(more=part.more, all_at=part.all_at))
    if letter.act:
        told.append("{}:\n{}".format(*letter.act))
    told.append("\n".join(("-- ", *letter.closing)))
    return "\n\n".join(told) + "\n"


def _told(line: Line) -> tuple[str, ...]:
    return line.what, line.why, line.do, line.address


def html(letter: Letter) -> str:
    """The same letter as HTML without styles, pictures or anything fetched from elsewhere."""
    return render_to_string("reports/mail.html", {"letter": letter})
