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
            widths, letters, unicode_map = self._made(tuple(subset), base_name)
            font: Any = pdfdoc.PDFTrueTypeFont()
            font.Name, font.BaseFont = name, base_name
            font.FirstChar, font.LastChar = 0, len(subset) - 1
            font.Widths = widths
            font.ToUnicode = doc.Reference(_packed(unicode_map), f"toUnicodeCMap:{base_name}")
            font.FontDescriptor = self._descriptor(doc, base_name, letters)
            doc.Reference(font, name)
            doc.idToObject["BasicFonts"].dict[name] = font
        del self.state[doc]

    def _begin(self, doc: Any) -> Any:
        state: Any = self.state.get(doc)
        if state is None:
            state = TTFont.State(False, self)
            self.state[doc] = state
            state.assignments = {ord(letter): code for letter, code in self._codes.items()}
            state.assignments[0] = 0
            state.subsets = [list(self._first)]
            state.nextCode = 0x100
        return state

    def _code(self, text: str) -> bytes | None:
        try:
            return bytes([self._codes[letter] for letter in text])
        except KeyError:
            return None

    def _make(
        self, subset: tuple[int, ...], base_name: str
    ) -> tuple[bytes, tuple[bytes, int], tuple[bytes, int]]:
        """Widths, letters and Unicode map of a part; both streams packed, with their length."""
        width_of: Callable[[int], float] = self.face.getCharWidth
        letters = self.face.makeSubset(list(subset))
        unicode_map = makeToUnicodeCMap(base_name, list(subset)).encode("latin-1")
        return (
            f"[{' '.join(f'{width_of(letter):.6g}' for letter in subset)}]".encode(),
            (compress(letters), len(letters)),
            (compress(unicode_map), 0),
        )

    def _descriptor(self, doc: Any, base_name: str, letters: tuple[bytes, int]) -> Any:
        face = self.face
        nonsymbolic, symbolic = 1 << 5, 1 << 2
        # As the base writes it: codes of our own, so the face counts as symbolic (PDF 32000-1,
        # table 123).
        return doc.Reference(
            pdfdoc.PDFDictionary(
                {
                    "Type": "/FontDescriptor",
                    "Ascent": face.ascent,
                    "CapHeight": face.capHeight,
                    "Descent": face.descent,
                    "Flags": (face.flags & ~nonsymbolic) | symbolic,
                    "FontBBox": pdfdoc.PDFArray(face.bbox),
                    "FontName": pdfdoc.PDFName(base_name),
                    "ItalicAngle": face.italicAngle,
                    "StemV": face.stemV,
                    "FontFile2": doc.Reference(
                        _packed(letters), f"fontFile:{face.filename}({base_name})"
                    ),
                    "MissingWidth": face.defaultWidth,
                }
            ),
            f"fontDescriptor:{base_name}",
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


def _packed(stream: tuple[bytes, int]) -> Any:
    content, length = stream
    about: dict[str, Any] = {"Filter": pdfdoc.PDFArray([pdfdoc.PDFName("FlateDecode")])}
    if length:
        about["Length1"] = length
    return pdfdoc.PDFStream(pdfdoc.PDFDictionary(about), content)
