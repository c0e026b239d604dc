"""Lettering broken into lines, and how wide it is: worked out once for equal words."""

from collections.abc import Iterator
from functools import lru_cache

from plant.drawings.lettering import widths_of
from reports.pdf.fonts import lettered

# [1] where it begins in parts of the size, its face, its letters
Piece = tuple[float, str, str]
Line = tuple[float, tuple[Piece, ...]]
Typed = tuple[tuple[str, str], ...]


@lru_cache(maxsize=8192)
def lines_of(typed: Typed, room: float) -> tuple[Line, ...]:
    """Breaks words into lines.

    Args:
        typed: any text at all with the face of each part, the parts one behind the other.
        room: width of a line in parts of the size of the letters.

    Returns:
        Each line with its width and its pieces. A word breaks only where it is longer than a
        line; a typed new line stays one.
    """
    lines: list[Line] = []
    for words in _paragraphs(typed):
        now: list[tuple[str, str]] = []
        taken = 0.0
        for word in words:
            wide = sum(_wide(face, letters) for face, letters in word)
            gap = _wide(word[0][0], " ") if now else 0.0
            if now and taken + gap + wide > room:
                lines.append(_line(now))
                now, taken, gap = [], 0.0, 0.0
            if wide <= room:
                now += [(word[0][0], " ")] if now else []
                now += word
                taken += gap + wide
                continue
            for face, letter in ((face, letter) for face, letters in word for letter in letters):
                step = _wide(face, letter)
                if now and taken + step > room:
                    lines.append(_line(now))
                    now, taken = [], 0.0
                now.append((face, letter))
                taken += step
        lines.append(_line(now))
    return tuple(lines)


def _paragraphs(typed: Typed) -> Iterator[list[list[tuple[str, str]]]]:
    """Line by typed line its words, each of the pieces that are set in one face."""
    words: list[list[tuple[str, str]]] = []
    ended = True
    for words_typed, face in typed:
        for number, line in enumerate(lettered(words_typed, face=face)):
            if number:
                yield words
                words, ended = [], True
            for held_by, letters in line:
                for at, word in enumerate(letters.split(" ")):
                    ended = ended or at > 0
                    if not word:
                        continue
                    if ended:
                        words.append([])
                        ended = False
                    words[-1].append((held_by, word))
    yield words


def _line(pieces: list[tuple[str, str]]) -> Line:
    """Neighbours of one face become one piece; a space goes with what follows it."""
    joined: list[tuple[float, str, str]] = []
    at = 0.0
    for face, letters in pieces:
        if joined and joined[-1][1] == face:
            joined[-1] = (joined[-1][0], face, joined[-1][2] + letters)
        else:
            joined.append((at, face, letters))
        at += _wide(face, letters)
    return at, tuple(joined)


@lru_cache(maxsize=16384)
def _wide(face: str, letters: str) -> float:
    widths = widths_of(face)
    return sum([widths[letter] for letter in letters])
