"""One person at a page: taps are counted, waits timed, the seconds of a person estimated."""

import time
from dataclasses import dataclass, field

from playwright.sync_api import Locator, Page, expect

# Keystroke-level model: Card, Moran and Newell, "The keystroke-level model for user performance
# time with interactive systems", Communications of the ACM 23 (1980): K 0.28 s for an average
# typist, P 1.1 s, B 0.1 s, M 1.35 s, H 0.4 s; from memory. It was measured at a desk with a mouse:
# a thumb in a glove is slower, which the factor stands for (a guess of our own, no source).
KEY_S, POINT_S, PRESS_S, MIND_S, HOME_S = 0.28, 1.1, 0.1, 1.35, 0.4
GLOVE, BARE = 1.5, 1.0


@dataclass
class Thumb:
    """Taps and keys of one person, and how long they would take; an estimate, not a measurement.

    taps: on what is pressed; boxes: taps into a box, which belong to the figures or words that
    are typed there; hand: how much slower than at a desk.
    """

    taps: int = 0
    keys: int = 0
    boxes: int = 0
    hand: float = GLOVE

    def tap(self, on: Locator) -> None:
        self.taps += 1
        on.tap()

    def type(self, on: Locator, words: str) -> None:
        self.keys += len(words)
        on.press_sequentially(words)

    @property
    def estimated_s(self) -> float:
        # Before each tap the person looks and decides; a tap is pointing, pressing and letting go.
        one_tap = MIND_S + self.hand * (POINT_S + 2 * PRESS_S)
        one_box = one_tap + HOME_S
        return self.taps * one_tap + self.boxes * one_box + self.keys * self.hand * KEY_S


@dataclass
class Person(Thumb):
    """Somebody on a phone in the yard or at a desk, who waits for what comes of a press."""

    page: Page | None = None
    phone: bool = True
    waits: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.hand = GLOVE if self.phone else BARE

    def tap(self, on: Locator, *, then: Locator | None = None) -> None:
        """Presses, and waits for what then is there to be seen."""
        self.taps += 1
        began = time.monotonic()
        if self.phone:
            on.tap()
        else:
            on.click()
        if then is not None:
            self.waits_for(then, since=began)

    def waits_for(self, then: Locator, *, since: float) -> None:
        expect(then).to_be_visible(timeout=120_000)
        self.waits.append(time.monotonic() - since)

    def fill(self, box: Locator, words: str) -> None:
        """Goes into a box and types."""
        self.boxes += 1
        self.keys += len(words)
        box.fill(words)

    def choose(self, lists: Locator, *, label: str = "", index: int | None = None) -> None:
        """One of a list that opens: a press to open, a press to choose."""
        self.taps += 2
        if index is None:
            lists.select_option(label=label)
        else:
            lists.select_option(index=index)

    @property
    def longest_wait_s(self) -> float:
        return max(self.waits, default=0.0)
