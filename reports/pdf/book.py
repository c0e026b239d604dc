"""Paper of many pages: contents with page numbers, bookmarks, and links between the two.

Pages are kept until all of them are set, so a line of the contents near the front is given its
number when the place that it names is known; the story is set once.
"""

from collections.abc import Callable, Iterable
from typing import Any

from reportlab.platypus import Flowable

from reports.pdf.fonts import SANS, SANS_BOLD, plain, width_of
from reports.pdf.page import WIDTH, NumberedCanvas, Running, build_counted, fitted

# Told while it is made: what is being done, so many parts done, of so many.
Tell = Callable[[str, int, int], None]
_LINE = 13.0
_NUMBER_ROOM = 30.0


def quiet(doing: str, done: int, of: int) -> None:
    """Tells nobody."""


class Place(Flowable):
    """A place that the contents and the bookmarks lead to; it takes no room.

    key: what the contents call it; title: of the bookmark; level: 0 is outermost.
    """

    def __init__(self, key: str, title: str, *, level: int = 0) -> None:
        super().__init__()
        self.width = self.height = 0.0
        self.keepWithNext = 1
        self._told = (key, plain(title), level)

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return 0.0, 0.0

    def draw(self) -> None:
        canvas = self.canv
        if isinstance(canvas, BookCanvas):
            canvas.places.append((*self._told, canvas.page_now, canvas.absolutePosition(0, 0)[1]))


class ContentsLine(Flowable):
    """A line of the contents: its title, dots, and the number of the page that has its place."""

    def __init__(self, key: str, title: str, *, level: int = 0) -> None:
        super().__init__()
        self.width, self.height = WIDTH, _LINE
        self._key, self._title, self._level = key, title, level

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        left = 12.0 * self._level
        face = SANS_BOLD if self._level == 0 else SANS
        room = WIDTH - left - _NUMBER_ROOM - 12
        title, size = fitted(
            plain(self._title, face=face), face=face, size=9.4, room=room, least=6.5
        )
        canvas.setFont(face, size)
        canvas.drawString(left, 3, title)
        begin = left + width_of(title, size=size, face=face) + 4
        canvas.saveState()
        canvas.setLineWidth(0.5)
        canvas.setDash([0.5, 2.5])
        canvas.line(begin, 3.6, WIDTH - _NUMBER_ROOM, 3.6)
        canvas.restoreState()
        if isinstance(canvas, BookCanvas):
            x, y = canvas.absolutePosition(0, 0)
            canvas.to_number.append((self._key, canvas.page_now, x, y))


class BookCanvas(NumberedCanvas):
    """Puts contents, links and bookmarks on the pages as well."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.places: list[tuple[str, str, int, int, float]] = []
        self.to_number: list[tuple[str, int, float, float]] = []

    @property
    def page_now(self) -> int:
        """The number of the page that is being set."""
        return len(self._kept) + 1

    def save(self) -> None:
        if self.places:
            self.showOutline()
        super().save()

    def finish_page(self, number: int) -> None:
        page_of = {key: page for key, _, _, page, _ in self.places}
        for line, (key, on, x, y) in enumerate(self.to_number):
            if on == number and key in page_of:
                self.setFont(SANS_BOLD, 9.4)
                self.drawRightString(x + WIDTH, y + 3, str(page_of[key]))
                box = (x, y, x + WIDTH, y + _LINE)
                # ReportLab's own numbers go back with each page that is taken up again.
                self.linkAbsolute("", key, Rect=box, name=f"line{line}", Border="[0 0 0]")
        for key, title, level, on, y in self.places:
            if on == number:
                self.bookmarkHorizontalAbsolute(key, y, left=0)
                self.addOutlineEntry(title, key, level=level, closed=level > 0)


def build_book(story: Iterable[Flowable], *, running: Running) -> tuple[bytes, int]:
    """Sets a story on A4 pages, with its places as bookmarks; see page.build_counted."""
    return build_counted(story, running=running, canvas=BookCanvas)
