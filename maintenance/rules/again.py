"""When a job is the trouble of an earlier one again, and how often that happens."""

import unicodedata
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from plant.translate import gettext

WINDOW = timedelta(days=30)
# Of fewer jobs than this no share is given: one more or less would turn it round (ours).
LEAST = 10


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """What a job is about: keys of check items, and words (symptom, title, parts), as written."""

    items: frozenset[str] = frozenset()
    words: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class Closed:
    """A job of the same machine that is checked and closed."""

    pk: int
    on: date
    trouble: Trouble


def plain(text: str) -> str:
    """Words without what does not matter: capitals, accents, spaces, full stops."""
    # Letters in fancy dress are plain ones only after the first normalizing, so fold twice.
    folded = text
    for _ in range(2):
        folded = unicodedata.normalize("NFKD", folded.casefold())
    kept = "".join(c if c.isalnum() else " " for c in folded if not unicodedata.combining(c))
    return " ".join(kept.split())


def is_same(one: Trouble, other: Trouble) -> bool:
    """Whether the two have an item of the check, or the same words, in common."""
    if one.items & other.items:
        return True
    return bool(_plain(one.words) & _plain(other.words))


def before(trouble: Trouble, closed: Iterable[Closed], *, on: date) -> int | None:
    """The latest closed job whose trouble this is, if it was closed within the window."""
    found = [
        each
        for each in closed
        if timedelta(0) <= on - each.on <= WINDOW and is_same(trouble, each.trouble)
    ]
    return max(found, key=lambda each: (each.on, each.pk)).pk if found else None


def share_text(*, again: int, closed: int) -> str:
    """How often it came back: 3 of 40, 7.5 %; too few to say is said."""
    if closed < LEAST:
        return gettext("{again} of {closed}: fewer than {least} jobs, too few for a share").format(
            again=again, closed=closed, least=LEAST
        )
    return gettext("{again} of {closed}, {share} %").format(
        again=again, closed=closed, share=f"{100 * again / closed:.1f}"
    )


def _plain(words: Collection[str]) -> set[str]:
    return {plain(each) for each in words} - {""}
