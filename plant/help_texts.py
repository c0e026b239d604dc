"""The texts of the help: why a thing is asked, the words used, a guide for each user.

They are data, in one file; pages and the ``why`` tag read them from here.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.utils.text import slugify

from plant.drives.workout import DriveGiven
from plant.drives.written import given_from_plain

FILE: Final = Path(settings.BASE_DIR) / "fixtures" / "reference" / "help_gb.json"
MOST_WHY_WORDS: Final = 80
"""The most words of a text that opens on the spot; more is not read while working."""
# [px] How large the pictures of pages are, by the first word of their name.
SHOT_SIZES: Final = {"phone": (360, 700), "desk": (1100, 700)}
# Drawings of a belt drive by our own code; any other name is a drawing of a check.
BELT_DRAWINGS: Final = ("groove", "drive", "band")


class HelpRefused(ValueError):
    """The file of texts lacks something, or says too much; the message names it."""


@dataclass(frozen=True, slots=True)
class Why:
    """Why a thing is asked or what a figure means. drawing: its name, "" for none."""

    key: str
    group: str
    title: str
    words: str
    source: str
    trust: str
    drawing: str = ""

    @property
    def cited(self) -> str:
        """Where it is from, and how sure that is; said once where both are the same."""
        alike = self.source.casefold() == self.trust.casefold()
        return self.source if alike else f"{self.source} ({self.trust})"


@dataclass(frozen=True, slots=True)
class Word:
    """A word of the trade or of ours, and what it means."""

    word: str
    means: str

    @property
    def anchor(self) -> str:
        return slugify(self.word)


@dataclass(frozen=True, slots=True)
class Shot:
    """A picture of a page, taken by tests/pictures/take.py. words: what is seen on it."""

    name: str
    words: str

    @property
    def file(self) -> str:
        return f"plant/guide/{self.name}.webp"

    @property
    def size(self) -> tuple[int, int]:
        """[px] Width and height, so that the page does not move when it comes."""
        return SHOT_SIZES[self.name.partition("-")[0]]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a guide. care: a caution; pictures: drawings of a check; marks: their words;
    shot: a picture of the page that the step is about."""

    head: str
    words: str
    care: str = ""
    pictures: tuple[str, ...] = ()
    drawing: str = ""
    marks: tuple[str, ...] = ()
    shot: Shot | None = None


@dataclass(frozen=True, slots=True)
class Guide:
    """One page for one user."""

    key: str
    title: str
    who: str
    lead: str
    steps: tuple[Step, ...]

    @property
    def text(self) -> str:
        """All that it says, for counting and for finding."""
        told = [f"{each.head} {each.words} {each.care}" for each in self.steps]
        return " ".join([self.title, self.lead, *told])


@dataclass(frozen=True, slots=True)
class HelpTexts:
    """Everything in the file, in its order. drive: [SI] the drive that stands in the drawings."""

    whys: Mapping[str, Why]
    words: tuple[Word, ...]
    guides: Mapping[str, Guide]
    drive: DriveGiven


@cache
def help_texts() -> HelpTexts:
    """The texts, read once a process.

    Raises:
        HelpRefused: a key stands twice, a text is too long, or a field is missing.
    """
    return read(json.loads(FILE.read_text(encoding="utf-8")))


def read(data: Mapping[str, Any]) -> HelpTexts:
    """The texts out of the content of the file.

    Raises:
        HelpRefused: as ``help_texts``.
    """
    try:
        whys = [Why(**row) for row in data["why"]]
        words = tuple(Word(**row) for row in data["words"])
        guides = [_guide(row) for row in data["guides"]]
        drive = given_from_plain(data["drive"])
    except (KeyError, TypeError) as missing:
        raise HelpRefused(f"the help lacks something, or has it twice: {missing}") from missing
    for each in whys:
        if not (each.title and each.words and each.source and each.trust):
            raise HelpRefused(f"{each.key}: a text needs a title, words, a source and its trust")
        if len(each.words.split()) > MOST_WHY_WORDS:
            raise HelpRefused(f"{each.key}: more than {MOST_WHY_WORDS} words")
    anchors = [each.anchor for each in words]
    for keys in ([each.key for each in whys], [each.key for each in guides], anchors):
        if twice := sorted({key for key in keys if keys.count(key) > 1}):
            raise HelpRefused(f"twice in the help: {', '.join(twice)}")
    return HelpTexts(
        whys={each.key: each for each in whys},
        words=tuple(sorted(words, key=lambda each: each.word.casefold())),
        guides={each.key: each for each in guides},
        drive=drive,
    )


def _guide(row: Mapping[str, Any]) -> Guide:
    steps = tuple(
        Step(
            **{**each, **{k: tuple(each.get(k, ())) for k in ("pictures", "marks")}}
            | {"shot": Shot(**each["shot"]) if "shot" in each else None}
        )
        for each in row["steps"]
    )
    return Guide(**{**row, "steps": steps})
