"""Many sheets as one file, each machine under its own bookmark, written as it goes.

The parts are files of ours, so their objects are plain: numbered from one, none of them packed
into another. They are copied one after the other under new numbers, and what is equal in many, the
letters of the faces above all, is written once. A part is let go before the next is read, so a
file of thousands of sheets takes no more memory than one of ten.
"""

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import BinaryIO

from reports.pdf.page import PRODUCER

# Text in brackets or digits may look like a reference to an object, and is none.
_TOKEN = re.compile(rb"\((?:[^()\\]|\\.)*\)|<[0-9A-Fa-f\s]*>|(\d+) 0 R", re.DOTALL)
_OBJECT = re.compile(rb"\d+ 0 obj\s+")
# In text a new line is written in letters.
_STREAM = re.compile(rb"(?<=>>)\s*stream\r?\n")
# What stands in one place of the whole only, however equal another is.
_OF_ITS_OWN = re.compile(rb"/Parent |/Annot")
_XREF = re.compile(rb"xref\s+0 (\d+)\s+")
_TAIL = re.compile(rb"startxref\s+(\d+)\s+%%EOF\s*$")
_ROOT = re.compile(rb"/Root (\d+) 0 R")
_PAGES = re.compile(rb"/Pages (\d+) 0 R")
_COUNT = re.compile(rb"/Count (\d+)")
_FIRST = re.compile(rb"/Kids \[\s*(\d+) 0 R")
_ENTRY = 20  # bytes of one line of the table of places


@dataclass(frozen=True)
class Part:
    """One PDF of a batch: its bytes or its file, and the bookmark that leads to it."""

    bookmark: str
    content: bytes | Path


def merge(parts: Iterable[Part], *, title: str, file: BinaryIO) -> None:
    """Puts the parts one behind the other into a file.

    Parts that follow each other with the same bookmark share it, so a machine with two sheets
    has one entry. Pages stay as they were printed, with their own numbers.

    Args:
        parts: the PDFs in printing order, each made by this package.
        title: of the whole, for the document information.
        file: written from where it stands, never read; the same parts give the same bytes.

    Raises:
        ValueError: there are no parts, or one is not such a PDF.
    """
    whole = _Whole(file)
    last = None
    for part in parts:
        content = part.content
        read = _Read(content if isinstance(content, bytes) else content.read_bytes())
        first = whole.add(read)
        if part.bookmark != last:
            last = part.bookmark
            whole.marks.append((last, first))
    if last is None:
        raise ValueError("there is nothing to print: no parts were given")
    whole.end(title)


def page_count(content: bytes) -> int:
    """The number of pages of a PDF of ours.

    Raises:
        ValueError: it is none.
    """
    return _Read(content).count


class _Read:
    """A PDF of ours in the hand: where its objects stand, and its pages."""

    def __init__(self, content: bytes) -> None:
        self._content = content
        tail = _TAIL.search(content, max(len(content) - 64, 0))
        table = _XREF.match(content, int(tail[1])) if tail else None
        root = _ROOT.search(content, table.end()) if table else None
        if table is None or root is None:
            raise ValueError("this is not a PDF of ours")
        begin, many = table.end(), int(table[1])
        self._at = [int(content[begin + _ENTRY * n : begin + _ENTRY * n + 10]) for n in range(many)]
        places = sorted((*self._at[1:], table.start()))
        self._end = dict(pairwise(places))
        self.pages = self._number(_PAGES, self.object(int(root[1]))[0])
        node = self.object(self.pages)[0]
        self.count, self.first = self._number(_COUNT, node), self._number(_FIRST, node)

    def object(self, number: int) -> tuple[bytes, bytes]:
        """What an object says, and its stream or nothing."""
        at = self._at[number]
        head = _OBJECT.match(self._content, at)
        end = self._content.rfind(b"endobj", at, self._end[at])
        if head is None or end < 0:
            raise ValueError("this is not a PDF of ours")
        begin = head.end()
        stream = _STREAM.search(self._content, begin, end)
        if stream is None:
            return self._content[begin:end].rstrip(), b""
        says, packed = self._content[begin : stream.start()], self._content[stream.start() : end]
        return says, packed.strip()

    @staticmethod
    def _number(wanted: re.Pattern[bytes], said: bytes) -> int:
        found = wanted.search(said)
        if found is None:
            raise ValueError("this is not a PDF of ours")
        return int(found[1])


class _Whole:
    """The file of many parts while it is written."""

    _ROOT, _INFO, _PAGES, _OUTLINES = 1, 2, 3, 4

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._hash = hashlib.sha256()
        self._length = 0
        self._at: dict[int, int] = {}
        self._next = self._OUTLINES + 1
        self._written: dict[bytes, int] = {}
        self._nodes: list[int] = []
        self._count = 0
        self.marks: list[tuple[str, int]] = []
        self._write(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")

    def add(self, part: _Read) -> int:
        """Copies the pages of a part and all that they need.

        Returns:
            The number of the object of its first page.
        """
        new = {part.pages: self._give()}
        node = self._copied(part, part.pages, new)[:-2].rstrip()
        self._put(new[part.pages], node + b" /Parent %d 0 R >>" % self._PAGES)
        self._nodes.append(new[part.pages])
        self._count += part.count
        return new[part.first]

    def end(self, title: str) -> None:
        """Writes the tree of the pages, the bookmarks, what the document is, and where all is."""
        kids = b" ".join(b"%d 0 R" % node for node in self._nodes)
        self._put(self._PAGES, b"<< /Type /Pages /Count %d /Kids [ %s ] >>" % (self._count, kids))
        first, last = self._next, self._next + len(self.marks) - 1
        for number, (words, page) in enumerate(self.marks, start=first):
            beside = b"/Prev %d 0 R " % (number - 1) if number > first else b""
            beside += b"/Next %d 0 R " % (number + 1) if number < last else b""
            says = b"<< /Title %s /Parent %d 0 R %s/Dest [ %d 0 R /Fit ] >>"
            self._put(self._give(), says % (_text(words), self._OUTLINES, beside, page))
        says = b"<< /Type /Outlines /First %d 0 R /Last %d 0 R /Count %d >>"
        self._put(self._OUTLINES, says % (first, last, len(self.marks)))
        told = (_text(title), _text(PRODUCER))
        self._put(self._INFO, b"<< /Title %s /Producer %s >>" % told)
        says = (
            b"<< /Type /Catalog /Pages %d 0 R /Outlines %d 0 R /PageMode /UseOutlines /Lang %s >>"
        )
        self._put(self._ROOT, says % (self._PAGES, self._OUTLINES, b"(en-GB)"))
        begin, mark = self._length, self._hash.hexdigest()[:32].encode()
        self._write(b"xref\n0 %d\n0000000000 65535 f \n" % self._next)
        for number in range(1, self._next):
            self._write(b"%010d 00000 n \n" % self._at[number])
        says = b"trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /ID [ <%s> <%s> ] >>\n"
        self._write(says % (self._next, self._ROOT, self._INFO, mark, mark))
        self._write(b"startxref\n%d\n%%%%EOF\n" % begin)

    def _copy(self, part: _Read, old: int, new: dict[int, int]) -> int:
        """Copies an object, with what it needs before it; one that is equal is there already."""
        body = self._copied(part, old, new)
        digest = hashlib.sha256(body).digest()
        number = None if _OF_ITS_OWN.search(part.object(old)[0]) else self._written.get(digest)
        if number is None:
            number = self._written[digest] = self._give()
            self._put(number, body)
        new[old] = number
        return number

    def _copied(self, part: _Read, old: int, new: dict[int, int]) -> bytes:
        says, stream = part.object(old)

        def renumbered(token: re.Match[bytes]) -> bytes:
            if token[1] is None:
                return token[0]
            old = int(token[1])
            return b"%d 0 R" % (new[old] if old in new else self._copy(part, old, new))

        says = _TOKEN.sub(renumbered, says)
        return says + b"\n" + stream if stream else says

    def _give(self) -> int:
        self._next += 1
        return self._next - 1

    def _put(self, number: int, body: bytes) -> None:
        self._at[number] = self._length
        self._write(b"%d 0 obj\n" % number + body + b"\nendobj\n")

    def _write(self, data: bytes) -> None:
        self._file.write(data)
        self._hash.update(data)
        self._length += len(data)


def _text(words: str) -> bytes:
    """Text as the format has it for any letter: UTF-16 behind its mark (ISO 32000-1, 7.9.2.2)."""
    return b"<FEFF" + words.encode("utf-16-be", "replace").hex().upper().encode() + b">"
