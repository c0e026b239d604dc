"""An embedded face whose common letters are cut out and packed once, for every paper after it."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any
from weakref import WeakKeyDictionary
from zlib import compress

from reportlab.pdfbase import pdfdoc
from reportlab.pdfbase.ttfonts import SUBSETN, TTFont, makeToUnicodeCMap

# What nearly every sheet is set in. Each letter keeps its place in the first part of a face; any
# other letter is put into a further part, made for the paper that needs it.
COMMON = (
    "".join(map(chr, range(0x20, 0x7F)))
    + "±×÷≤≥≈√°²³·−–—→∞…½µΩπαβγδΔεθλμρσφψ‘’“”£€«»§"
    + "ÀÁÂÄÅÆÇÈÉÊËÍÎÓÔÖØÚÜßàáâãäåæçèéêëìíîïñòóôõöøùúûüý"
    + "ŁłąćęńóśźżčďěřšťůžČŘŠŽ"
)
_SPACE, _FIRST_FREE = 0x20, 0x80


class Face(TTFont):
    """A TrueType face for paper, reading and measuring as its base does.

    Text of common letters is coded by a table, and the part that holds them is cut out of the
    file and packed once a process; otherwise each document would do all of that again.
    """

    def __init__(self, name: str, filename: str) -> None:
        super().__init__(name, filename, shapable=False)
        self.state: WeakKeyDictionary[Any, Any] = WeakKeyDictionary()
        self._codes = _codes(self.face.charToGlyph)
        self._assigned = {ord(letter): code for letter, code in self._codes.items()} | {0: 0}
        self._first = [0] * (max(self._codes.values()) + 1)
        for letter, code in self._codes.items():
            self._first[code] = ord(letter)
        self._coded = lru_cache(maxsize=8192)(self._code)
        self._made = lru_cache(maxsize=16)(self._make)

    def splitString(  # noqa: N802  # ReportLab's name
        self, text: str, doc: Any, encoding: str = "utf-8"
    ) -> list[tuple[int, bytes]]:
        """The text in pieces, each of letters from one part of the face, coded for that part."""
        self._begin(doc)
        coded = self._coded(text)
        if coded is not None:
            return [(0, coded)] if coded else []
        pieces: list[tuple[int, bytes]] = super().splitString(text, doc, encoding)
        return pieces

    def addObjects(self, doc: Any) -> None:  # noqa: N802  # ReportLab's name
        """Puts the parts that the document uses into it."""
        state = self._begin(doc)
        state.frozen = 1
        for number, subset in enumerate(state.subsets):
            name = self.getSubsetInternalName(number, doc)[1:]
            base = b"".join((SUBSETN(number), b"+", self.face.name, self.face.subfontNameX))
            base_name = base.decode("pdfdoc")
            widths, described, letters, unicode_map = self._made(tuple(subset), base_name)
            in_unicode = doc.Reference(_Ready(unicode_map), f"toUnicodeCMap:{base_name}")
            file = doc.Reference(_Ready(letters), f"fontFile:{self.face.filename}({base_name})")
            descriptor = doc.Reference(
                _Ready(described, file, b" >>"), f"fontDescriptor:{base_name}"
            )
            about = f"<< /Type /Font /Subtype /TrueType /BaseFont /{base_name} /Name /{name} "
            about += f"/FirstChar 0 /LastChar {len(subset) - 1} /Widths {widths} /FontDescriptor "
            font = _Ready(about.encode(), descriptor, b" /ToUnicode ", in_unicode, b" >>")
            doc.Reference(font, name)
            doc.idToObject["BasicFonts"].dict[name] = font
        del self.state[doc]

    def _begin(self, doc: Any) -> Any:
        state: Any = self.state.get(doc)
        if state is None:
            state = TTFont.State(False, self)
            self.state[doc] = state
            state.assignments = self._assigned.copy()
            state.subsets = [list(self._first)]
            state.nextCode = 0x100
        return state

    def _code(self, text: str) -> bytes | None:
        try:
            return bytes([self._codes[letter] for letter in text])
        except KeyError:
            return None

    def _make(self, subset: tuple[int, ...], base_name: str) -> tuple[str, bytes, bytes, bytes]:
        """Of a part its widths, what describes it up to its file, its letters and Unicode map."""
        face: Any = self.face
        width_of: Callable[[int], float] = face.getCharWidth
        letters = face.makeSubset(list(subset))
        unicode_map = makeToUnicodeCMap(base_name, list(subset)).encode("latin-1")
        nonsymbolic, symbolic = 1 << 5, 1 << 2
        about = {
            "FontName": f"/{base_name}",
            # As the base writes it: codes of our own, so the face counts as symbolic (PDF 32000-1,
            # table 123).
            "Flags": (face.flags & ~nonsymbolic) | symbolic,
            "FontBBox": f"[{' '.join(f'{each:.6g}' for each in face.bbox)}]",
            "ItalicAngle": f"{face.italicAngle:.6g}",
            "Ascent": f"{face.ascent:.6g}",
            "Descent": f"{face.descent:.6g}",
            "CapHeight": f"{face.capHeight:.6g}",
            "StemV": f"{face.stemV:.6g}",
            "MissingWidth": f"{face.defaultWidth:.6g}",
        }
        said = " ".join(f"/{key} {value}" for key, value in about.items())
        return (
            f"[{' '.join(f'{width_of(letter):.6g}' for letter in subset)}]",
            f"<< /Type /FontDescriptor {said} /FontFile2 ".encode(),
            _packed(letters, f" /Length1 {len(letters)}"),
            _packed(unicode_map),
        )


class _Ready(pdfdoc.PDFObject):
    """An object of a document that is written already, but for its references to others."""

    __RefOnly__ = 1  # never written inside another

    def __init__(self, *parts: Any) -> None:
        self._parts = parts

    def format(self, doc: Any) -> bytes:
        """Its bytes in the document, by the name under which the library asks for them."""
        return b"".join(
            part if isinstance(part, bytes) else part.format(doc) for part in self._parts
        )


def _codes(held: Any) -> dict[str, int]:
    """The code of each common letter that the face holds; a hard space reads as a space."""
    codes = {letter: ord(letter) for letter in COMMON if _SPACE <= ord(letter) < _FIRST_FREE - 1}
    free = iter(range(_FIRST_FREE, 0x100))
    for letter in dict.fromkeys(COMMON):
        if letter not in codes and ord(letter) in held:
            codes[letter] = next(free)
    codes["\u00a0"] = _SPACE
    return {"\u00a0": codes.pop("\u00a0"), **codes}


def _packed(stream: bytes, about: str = "") -> bytes:
    content = compress(stream)
    head = f"<< /Filter [ /FlateDecode ] /Length {len(content)}{about} >>\nstream\n"
    return head.encode() + content + b"\nendstream\n"
