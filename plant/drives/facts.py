"""A figure of the trade together with where it comes from and how far to trust it."""

from dataclasses import dataclass
from enum import StrEnum


class Trust(StrEnum):
    """How a figure came to us; shown to the user wherever the figure is shown."""

    SEEN = "seen"
    SECOND_HAND = "seen, second hand"
    MEMORY = "from memory"
    PRACTICE = "common practice, no source"
    COMPUTED = "computed"


@dataclass(frozen=True, slots=True)
class Fact:
    """One figure [SI unit of its field] with its source and its trust."""

    value: float
    source: str
    trust: Trust
