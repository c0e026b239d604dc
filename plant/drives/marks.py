"""Reads what stands on a belt, several marks together, and writes the same belt in other marks."""

import re
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise, product
from math import pi

from plant.drives import lengths
from plant.drives.errors import DriveError, NotSourced, UnknownMark
from plant.drives.lengths import INCH, System
from plant.drives.sections import SECTIONS, Family, Section, section
from plant.length_words import both_text, length_text, sizes_text
from plant.translate import gettext

MOST_CHARACTERS = 200
MOST_MARKS = 6

# Two marks that state the same length are rounded apart by this much and no more (common practice).
SAME_LENGTH = 0.003  # [m]

_ALLOWED = frozenset('ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .,-/"=:;+()_')
_SAME_SIGN = str.maketrans(
    {
        "½": " 1/2", "¼": " 1/4", "¾": " 3/4",
        "×": "X", "✕": "X", "*": "X", "″": '"', "”": '"', "“": '"', "–": "-", "—": "-", "‑": "-",
        "−": "-", "\t": " ", "\n": " ", "\r": " ", "\u00a0": " ", "\u202f": " ",
    }
)  # fmt: skip

_BASIS = {
    "LI": "inside", "LD": "datum", "LW": "datum", "LP": "datum", "LA": "outside", "LE": "effective",
}  # fmt: skip
_SHORT = {"inside": "Li", "datum": "Ld", "outside": "La", "effective": "Le", "pitch": "Lp"}

# Which of several stated lengths leads: a datum length outranks any sum.
_RANK = ("datum", "pitch", "inside", "effective", "outside")
_INCHES = "letter and inches"
# A written mark further off than this [m] is another belt; the systems differ by up to 70 mm.
_OTHER_BELT = 0.1
_METRIC = ("letter and millimetres", "width and letter", "width x length")

# Longest inch number met for a section; a bare number above it is millimetres (common practice).
_LONGEST_INCH = {"Y": 40, "Z": 100, "A": 200, "B": 400, "C": 450, "D": 1000, "E": 1000}

# Top width in millimetres to section: DIN 2215, DIN 7753-1, DIN 7753-3.
_WIDTHS = {
    "6": ("Y",), "9.5": ("AVX10",), "9.7": ("SPZ",), "10": ("Z",), "12.5": ("AVX13",),
    "12.7": ("A", "SPA"), "13": ("A",), "16.3": ("SPB",), "17": ("B",), "20": ("20",),
    "22": ("C",), "25": ("25",), "32": ("D",), "38": ("E",), "40": ("E",),
}  # fmt: skip

# Names that lie in each other's grooves with the same outside length: both stand on some belts.
_LIGHT_TWINS = {"3L": "Z", "4L": "A", "5L": "B"}
_ISO_5290 = {"9": "3V", "15": "5V", "25": "8V"}


@dataclass(frozen=True, slots=True)
class BeltReading:
    """One way to read the marks. Lengths [m], None where they cannot be known.

    section: code, empty when the marks do not say; count: strands of a joined belt, ribs of a
    ribbed one, else 1; inside, datum, outside, effective: the lengths; system: whose difference
    between them is used; basis: which length the mark states ("inside", "datum", "outside",
    "effective", "pitch"); assumed: the mark does not itself say which; form: the kind of mark;
    words: the reading as a sentence; text: the mark itself; stated: [m] the length as marked;
    width: [m] of a toothed belt; teeth: their number; joined: strands share one back;
    by_width: the section is known from a top width only.
    """

    section: str
    count: int
    inside: float | None
    datum: float | None
    outside: float | None
    effective: float | None
    system: System
    basis: str
    assumed: bool
    form: str
    words: str
    text: str
    stated: float
    width: float | None = None
    teeth: int | None = None
    joined: bool = False
    by_width: bool = False


@dataclass(frozen=True, slots=True)
class MarkReading:
    """What the marks say together.

    readings: the ways left to read the belt, likeliest first; agreed: exactly one way is left and
    it names a section; settle: what would decide between them, empty when agreed; words: the
    whole in sentences; outcome: "agree", "differ" (no two marks can be of one belt), "more than
    one reading" or "section missing"; parts: each mark with its own readings; unread: what was
    typed but is no length mark.
    """

    readings: tuple[BeltReading, ...]
    agreed: bool
    settle: str
    words: str
    outcome: str
    parts: tuple[tuple[str, tuple[BeltReading, ...]], ...] = ()
    unread: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Equivalent:
    """A mark for the same belt, and what it reads as.

    mark: the text; section; system: in which it is to be read; datum, effective, outside: [m] the
    length it reads as, whichever its section has; off: [m] how far that lies from the length
    asked; words: a sentence.
    """

    mark: str
    section: str
    system: System
    datum: float | None
    effective: float | None
    outside: float | None
    off: float
    words: str


def read(text: str, *, system: System) -> MarkReading:
    """Reads everything that stands on one belt.

    Args:
        text: the marks as typed, up to 200 characters: "A26 660Li 13A690". Case, spaces, hyphens
            and dots between parts do not matter.
        system: in which a bare inch number is turned into a datum length; marks that state both
            lengths outrank it.

    Returns:
        MarkReading, lengths [m].

    Raises:
        UnknownMark: nothing in it could be read, or it is too long, or holds a strange character.

    Source:
        Forms of DIN 2215, ISO 4184, DIN 7753-1 and -3, ISO 2790, ANSI/RMA IP-20, IP-21, IP-22,
        IP-23, ISO 5290, ISO 9982, ISO 5296 and the habits of the trade (from memory). A number
        after a letter is inches where as millimetres it would not go round the smallest pulley.
    """
    tokens = _tokens(text)
    parts, unread = _parts(tokens, system)
    if not parts:
        raise UnknownMark(
            gettext(
                "{text} holds no belt mark that can be read; accepted are marks "
                "like A26, 13x660 Li, 13A690, SPZ 1000, 3V250, 4L260, 6PK1200, "
                "480J6, 150L050, 500-5M-15"
            ).format(text=f"{text.strip()[:60]!r}")
        )
    if all(not reading.basis for _, ways in parts for reading in ways):
        raise UnknownMark(
            gettext(
                "{parts} is a number alone; add the letter or the width that "
                "stands beside it, or which length it is (Li inside, Ld datum, La "
                "outside)"
            ).format(parts=parts[0][0])
        )
    return _together(parts, unread, system)


def reading_of(*, section: str, basis: str, stated: float, system: System) -> BeltReading:
    """A reading made from a section and one length, as if a mark had stated them.

    Args:
        section: code of the belt section.
        basis: which length is given: "inside", "datum", "outside" or "effective".
        stated: [m] that length, 0.05 to 30.
        system: whose difference between inside and datum length is used.

    Returns:
        BeltReading, lengths [m].

    Raises:
        UnknownSection: no such section is held.
        UnknownMark: no belt of that section is so short or so long, or the basis is unknown.

    Source:
        As ``lengths``.
    """
    if basis not in _SHORT:
        raise UnknownMark(
            gettext("{basis} is no length of a belt; accepted: {short}").format(
                basis=f"{basis!r}", short=", ".join(_SHORT)
            )
        )
    return _reading(
        "", section, basis, stated, system=system, assumed=False, form=gettext("section and length")
    )


def equivalents(reading: BeltReading) -> tuple[Equivalent, ...]:
    """The same belt written in the other marks of its section, in every system that has it.

    Args:
        reading: a reading with a section.

    Returns:
        Equivalents; each mark read in its own system gives exactly the length beside it.

    Raises:
        UnknownMark: the reading names no section, or no length that can be written.

    Source:
        As ``read``. An inch number is written where a whole number lies within 6 mm, with how far
        it is off: inch and metric names are neighbours, not always the same length.
    """
    if not reading.section:
        raise UnknownMark(gettext("the marks name no section, so no other mark can be written"))
    belt = section(reading.section)
    found: list[Equivalent] = []
    for mark, system in _writings(reading, belt):
        try:
            read_back = read(mark, system=system)
        except UnknownMark:
            continue
        back = read_back.readings[0]
        if not read_back.agreed or back.section != belt.code:
            continue  # such a mark would be taken for another belt
        asked, got = _shared_length(reading, back)
        if abs(got - asked) > _OTHER_BELT:
            continue  # the number would be read in another unit
        found.append(
            Equivalent(
                mark=mark,
                section=back.section,
                system=system,
                datum=back.datum,
                effective=back.effective,
                outside=back.outside,
                off=got - asked,
                words=_off_words(mark, got - asked, back),
            )
        )
    if not found:
        raise UnknownMark(
            gettext("no other mark can be written for section {belt}").format(belt=belt.code)
        )
    return tuple(found)


# Splitting the text


def _tokens(text: str) -> list[str]:
    if len(text) > MOST_CHARACTERS:
        raise UnknownMark(
            gettext(
                "{count} characters are more than stand on a belt; accepted: {most_characters}"
            ).format(count=len(text), most_characters=MOST_CHARACTERS)
        )
    upper = text.translate(_SAME_SIGN).upper()
    for sign in upper:
        if sign not in _ALLOWED:
            raise UnknownMark(
                gettext(
                    "the sign {sign} is no part of a belt mark; accepted: letters, "
                    "figures, spaces, points, hyphens, strokes and x"
                ).format(sign=f"{sign!r}")
            )
    if comma := re.search(r"\d{1,6},\d{1,6}", upper):
        figure = comma.group()
        raise UnknownMark(
            gettext(
                "{figure} can be read two ways; write {decimal} for a decimal, or "
                "{two_marks} for two marks"
            ).format(
                figure=figure, decimal=figure.replace(",", "."), two_marks=figure.replace(",", " ")
            )
        )
    spaced = re.sub(r"[,;+()_]", " ", upper)
    # "Ld = 690" is one figure, "A26 = 13x660" are two marks
    spaced = re.sub(r"(?<=L[IDWPAE]) ?[=:] ?", "", spaced)
    spaced = re.sub(r"[=:]", " ", spaced)
    # a fraction after a whole number belongs to it, unless it is the first of two sizes
    spaced = re.sub(
        r"(?<=\d)[ -]([13])/([24])(?![0-9/])(?! ?X)",
        lambda found: f"{int(found[1]) / int(found[2]):.2f}".rstrip("0").lstrip("0"),
        spaced,
    )
    return [token for token in spaced.split() if token.strip('-/."')]


def _parts(
    tokens: list[str], system: System
) -> tuple[list[tuple[str, tuple[BeltReading, ...]]], list[str]]:
    waiting = list(reversed(tokens))
    parts: list[tuple[str, tuple[BeltReading, ...]]] = []
    unread: list[str] = []
    while waiting:
        ahead = waiting[-1:-7:-1]
        for size in range(len(ahead), 0, -1):
            ways = _first_form(_joined(ahead[:size]), system)
            if ways:
                parts.append((" ".join(ahead[:size]), ways))
                del waiting[-size:]
                break
        else:
            token = waiting.pop()
            pieces = [piece for piece in re.split(r"[-/]", token) if piece]
            if len(pieces) > 1:
                waiting.extend(reversed(pieces))
            else:
                unread.append(token)
        if len(parts) > MOST_MARKS:
            raise UnknownMark(
                gettext("more than {most_marks} marks; type those of one belt").format(
                    most_marks=MOST_MARKS
                )
            )
    return parts, unread


def _joined(tokens: list[str]) -> str:
    """One string of the tokens; a hyphen where two figures would otherwise run into one."""
    joined = tokens[0]
    for before, after in pairwise(tokens):
        joined += "-" + after if before[-1].isdigit() and after[0].isdigit() else after
    # a hyphen or point that does not stand between figures carries nothing
    return re.sub(r"(?<![0-9])[-.]|[-.](?![0-9])", "", joined)


def _first_form(text: str, system: System) -> tuple[BeltReading, ...] | None:
    if len(text) > 24:
        return None
    refused: DriveError | None = None
    for pattern, reader in _FORMS:
        if match := pattern.fullmatch(text):
            try:
                return reader(match, system)
            except DriveError as problem:
                refused = refused or problem
    if refused is not None:
        # it has the form of a mark: reading only a part of it would be another belt
        raise UnknownMark(str(refused))
    return None


# One mark


def _letter(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """A26, AX26, A690, A 660 Li, 13A690, 4/B75, RB75."""
    text, group = match.group(), match.groupdict()
    code, number = group["code"], float(group["number"])
    suffix = group["suffix"] or group["prefix"]
    belt = section(code)
    width = group.get("width")
    if width is not None and code.rstrip("X") not in _codes_of_width(width):
        raise UnknownMark(
            gettext(
                "{text} names a width of {width} mm and section {code}, which is "
                "{top_width} wide; one of the two is misread"
            ).format(text=text, width=width, code=code, top_width=sizes_text(belt.top_width))
        )
    count = int(group["strands"] or group["after"] or group["band"] or 1)
    joined = count > 1 or group["banded"] is not None
    basis = _BASIS.get(suffix or "")
    too_short = number / 1000 < 1.2 * pi * _smallest(belt)
    few = number <= _LONGEST_INCH[code[0]]
    inches = "MM" not in text and (
        group["inch"] is not None
        or (basis is None and (too_short or few))
        or (basis == "inside" and too_short and few)
    )
    if inches:
        if basis not in (None, "inside"):
            raise UnknownMark(
                gettext("{text}: inch numbers state the inside length, not {suffix}").format(
                    text=text, suffix=suffix
                )
            )
        return _each(
            text, [(code, "inside")], number * INCH, system, form=_INCHES, assumed=False,
            count=count, joined=joined,
        )  # fmt: skip
    stated = number / 1000
    if basis is not None:
        form = gettext("width and letter") if width else gettext("letter and millimetres")
        return _each(
            text, [(code, basis)], stated, system, form=form, assumed=False, count=count,
            joined=joined,
        )  # fmt: skip
    if width is not None:
        ways = [(code, "datum")]
        if code[0] in "ZA":  # the widths of vehicle belts, sized by their outside
            ways.append((code, "outside"))
        form = gettext("width and letter")
    else:
        ways = [(code, "datum"), (code, "inside")]
        if _kept(belt, "inside", stated) > _kept(belt, "datum", stated):
            ways.reverse()
        form = gettext("letter and millimetres")
    return _each(text, ways, stated, system, form=form, count=count, joined=joined)


def _width(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """13x660, 17x1473 Li, 17x11x1067 Li, 12.5x1000 La."""
    text, group = match.group(), match.groupdict()
    width, height = _plain(group["width"]), group["height"]
    stated, basis = float(group["number"]) / 1000, _BASIS.get(group["suffix"] or "")
    if height is None:
        codes = _codes_of_width(width)
        if basis == "outside" and width in ("10", "13"):
            codes = (*codes, f"AVX{width}")
    else:
        codes = _codes_of_size(float(width) * 1e-3, float(height) * 1e-3)
    letter = group["letter"]
    if letter is not None:
        if letter.rstrip("X") not in codes:
            raise UnknownMark(
                gettext(
                    "{text} names section {letter} and another section's width; one is misread"
                ).format(text=text, letter=letter)
            )
        codes = (letter,)
    if not codes:
        size = (
            width
            if height is None
            else gettext("{width} x {height}").format(width=width, height=_plain(height))
        )
        raise UnknownMark(
            gettext("{text}: no section {size} mm is held; accepted widths: {widths} mm").format(
                text=text, size=size, widths=", ".join(_WIDTHS)
            )
        )
    ways: list[tuple[str, str]] = []
    for code in codes:
        family = section(code).family
        if basis is not None:
            ways.append((code, basis))
        elif family is Family.AUTOMOTIVE:
            ways.append((code, "outside"))
        elif family in (Family.CLASSICAL, Family.COGGED):
            ways += [(code, "inside"), (code, "datum")]
        else:
            ways.append((code, "datum"))
    form = gettext("width x length")
    return _each(
        text, ways, stated, system, form=form, assumed=basis is None, by_width=letter is None
    )


def _automotive(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """AVX13x1000, 10AV0850, AVX10-850 La."""
    group = match.groupdict()
    width = group["before"] or group["after"]
    basis = _BASIS.get(group["suffix"] or "", "outside")
    return _each(
        match.group(), [(f"AVX{width}", basis)], float(group["number"]) / 1000, system,
        form=gettext("outside length, vehicle"), assumed=False,
    )  # fmt: skip


def _narrow(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """SPZ 1000, XPA1250 Lw, 3/SPB 2000."""
    group = match.groupdict()
    basis = _BASIS.get(group["suffix"] or group["prefix"] or "")
    count = int(group["strands"] or group["after"] or 1)
    return _each(
        match.group(), [(group["code"], basis or "datum")], float(group["number"]) / 1000, system,
        form="narrow metric", assumed=basis is None, count=count, joined=count > 1,
    )  # fmt: skip


def _inch_narrow(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """3V250, 3VX250, R5V1250, 4/5V1250."""
    group = match.groupdict()
    count = int(group["strands"] or group["after"] or group["band"] or 1)
    return _each(
        match.group(), [(group["code"], "effective")], float(group["number"]) * INCH / 10, system,
        form="narrow inch", assumed=False, count=count,
        joined=count > 1 or group["banded"] is not None,
    )  # fmt: skip


def _iso_narrow(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """9N 1270, 15N 2032, 4/15J 2032."""
    group = match.groupdict()
    count = int(group["strands"] or group["after"] or 1)
    return _each(
        match.group(), [(_ISO_5290[group["size"]], "effective")], float(group["number"]) / 1000,
        system, form="narrow ISO", assumed=False, count=count,
        joined=count > 1 or group["kind"] == "J",
    )  # fmt: skip


def _light(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """4L260."""
    group = match.groupdict()
    return _each(
        match.group(), [(group["code"], "outside")], float(group["number"]) * INCH / 10, system,
        form="light duty", assumed=False,
    )  # fmt: skip


def _double(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """AA96, HBB 2500."""
    text, group = match.group(), match.groupdict()
    code, number = group["code"], float(group["number"])
    basis = _BASIS.get(group["suffix"] or "")
    smallest = _smallest(section(code[0]))
    if basis is None and number / 1000 < 1.2 * pi * smallest:
        return _each(
            text,
            [(code, "inside")],
            number * INCH,
            system,
            form=gettext("double, inches"),
            assumed=False,
        )
    return _each(
        text, [(code, basis or "datum")], number / 1000, system,
        form=gettext("double, millimetres"), assumed=basis is None,
    )  # fmt: skip


def _ribbed(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """6PK1200."""
    group = match.groupdict()
    return _each(
        match.group(), [("P" + group["kind"], "effective")], float(group["number"]) / 1000, system,
        form="ribbed metric", assumed=False, count=_ribs(match.group(), group["ribs"]),
    )  # fmt: skip


def _ribbed_inch(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """480J6."""
    group = match.groupdict()
    return _each(
        match.group(),
        [("P" + group["kind"], "effective")],
        float(group["number"]) * INCH / 10,
        system,
        form="ribbed inch",
        assumed=False,
        count=_ribs(match.group(), group["ribs"]),
    )


def _toothed_inch(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """150L050: 15.0 in pitch length, L teeth, 0.50 in wide."""
    group = match.groupdict()
    hundredths = int(group["width"])
    # 3/8 and 5/16 in are rounded to two figures in these marks
    width = {37: 0.375, 31: 0.3125, 25: 0.25}.get(hundredths, hundredths / 100) * INCH
    return _toothed(
        match.group(), group["code"], float(group["number"]) * INCH / 10, width, system,
        form="toothed inch",
    )  # fmt: skip


def _toothed_metric(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """500-5M-15."""
    group = match.groupdict()
    return _toothed(
        match.group(), group["code"], float(group["number"]) / 1000, float(group["width"]) / 1000,
        system, form="toothed metric",
    )  # fmt: skip


def _toothed_t(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """T10-1250-25, 16T5/390: the number over 100 that holds whole teeth is the length."""
    text, group = match.group(), match.groupdict()
    code = group["code"]
    tooth = float(code[1:])
    numbers = [float(item) for item in (group["before"], group["one"], group["two"]) if item]
    long = [item for item in numbers if item > 100 and abs(item / tooth % 1) < 1e-9]
    if len(long) != 1:
        raise UnknownMark(
            gettext(
                "{text}: none, or more than one, of its numbers is over 100 mm and "
                "holds whole teeth of {tooth} mm, so the length cannot be told "
                "from the width"
            ).format(text=text, tooth=f"{tooth:g}")
        )
    rest = [item for item in numbers if item != long[0]]
    width = rest[0] / 1000 if rest else None
    return _toothed(text, code, long[0] / 1000, width, system, form="toothed T")


def _bare(match: re.Match[str], system: System) -> tuple[BeltReading, ...]:
    """660Li, Ld 690; or a number alone, which only counts beside another mark."""
    text, group = match.group(), match.groupdict()
    suffix = group["suffix"] or group["prefix"]
    number = float(group["number"])
    if suffix is None:
        return (_sectionless(text, "", number / 1000, system),)
    if not 100 <= number <= 30_000:
        raise UnknownMark(gettext("{text}: a belt is 100 to 30000 mm long").format(text=text))
    return (_sectionless(text, _BASIS[suffix], number / 1000, system),)


def _toothed(
    text: str, code: str, stated: float, width: float | None, system: System, *, form: str
) -> tuple[BeltReading, ...]:
    belt = section(code)
    assert belt.pitch is not None
    teeth = round(stated / belt.pitch.value)
    length = teeth * belt.pitch.value
    # inch marks give the length to a tenth of an inch, so up to 0.05 in is rounding
    rounding = 0.05 * INCH if form == "toothed inch" else 0.0
    if teeth < 10 or abs(stated - length) > rounding + 1e-9:
        raise UnknownMark(
            gettext("{text}: {stated} mm do not hold a whole number of teeth of {pitch} mm").format(
                text=text, stated=f"{stated * 1000.0:g}", pitch=f"{belt.pitch.value * 1000.0:g}"
            )
        )
    one = _reading(
        text, code, "pitch", length, system=system, assumed=False, form=form, width=width,
        teeth=teeth,
    )  # fmt: skip
    return (one,)


_SUFFIX = r"(?:MM)?(?P<suffix>LI|LD|LW|LP|LA|LE)?(?:MM)?"
_PREFIX = r"(?P<prefix>LI|LD|LW|LP|LA|LE)?"
_NUMBER = r"0{0,2}(?P<number>[1-9][0-9]{1,4}(?:\.[0-9]{1,2})?)"
_AFTER = r"(?:/(?P<after>[2-9]|1[0-9]))?"
# A hyphen before the strands counts only where an R in front says that they are joined.
_BANDED_AFTER = r"(?:/(?P<after>[2-9]|1[0-9])|(?(banded)-(?P<band>[2-9])))?"
_STRANDS = r"(?:(?P<strands>[2-9]|1[0-9])[/R])?(?P<banded>R)?"

_Reader = Callable[[re.Match[str], System], tuple[BeltReading, ...]]

_FORMS: tuple[tuple[re.Pattern[str], _Reader], ...] = tuple(
    (re.compile(pattern), reader)
    for pattern, reader in (
        (r"(?P<number>[0-9]{2,4})(?P<code>XL|L|H|XH)(?P<width>[0-9]{3})", _toothed_inch),
        (r"(?P<number>[0-9]{2,5})-(?P<code>3M|5M|8M|14M)-?(?P<width>[0-9]{1,3})", _toothed_metric),
        (r"(?P<code>3M|5M|8M|14M)-?(?P<number>[0-9]{3,5})-(?P<width>[0-9]{1,3})", _toothed_metric),
        (
            r"(?P<before>[0-9]{1,4})?-?(?P<code>T5|T10)[-/X](?P<one>[0-9]{1,5})"
            r"(?:[-/X](?P<two>[0-9]{1,5}))?",
            _toothed_t,
        ),
        (r"(?P<ribs>[0-9]{1,2})P(?P<kind>[HJKLM])(?P<number>[0-9]{3,5})(?:LE)?", _ribbed),
        (r"(?P<number>[0-9]{2,4})(?P<kind>[HJKLM])(?P<ribs>[0-9]{1,2})", _ribbed_inch),
        (
            _STRANDS + r"(?P<size>9|15|25)(?P<kind>[NJ])(?P<number>[0-9]{3,5})(?:LE)?"
            r"(?:/(?P<after>[2-9]|1[0-9]))?",
            _iso_narrow,
        ),
        (
            _STRANDS + r"(?P<code>3VX|5VX|3V|5V|8V)(?P<number>[0-9]{3,4})" + _BANDED_AFTER,
            _inch_narrow,
        ),
        (r"(?P<code>[2-5]L)(?P<number>[0-9]{3,4})", _light),
        (
            r"(?P<before>10|13)?AVX?(?P<after>10|13)?[-X/]?0?(?P<number>[0-9]{3,4})" + _SUFFIX,
            _automotive,
        ),
        (
            r"(?:(?P<strands>[2-9]|1[0-9])/?)?(?P<code>(?:SP|XP)[ZABC])"
            + _PREFIX
            + _NUMBER
            + _SUFFIX
            + _AFTER,
            _narrow,
        ),
        (r"H?(?P<code>AA|BB|CC|DD)" + _NUMBER + _SUFFIX, _double),
        (
            r"(?P<letter>[ABC]X|[YZABCDE]|SP[ZABC])?-?"
            r"(?P<width>[0-9]{1,2}(?:\.[0-9])?)X(?:(?P<height>[0-9]{1,2}(?:\.[0-9])?)X)?"
            + _NUMBER
            + _SUFFIX,
            _width,
        ),
        (
            _STRANDS
            + r"(?P<width>6|10|13|17|22|32|38|40)?(?P<code>[ABC]X|[YZABCDE])"
            + _PREFIX
            + _NUMBER
            + r"(?P<inch>\"|IN)?"
            + _SUFFIX
            + _BANDED_AFTER,
            _letter,
        ),
        (
            r"(?P<prefix>LI|LD|LW|LP|LA|LE)?(?P<number>[0-9]{2,5}(?:\.[0-9])?)" + _SUFFIX,
            _bare,
        ),
    )
)


def _each(
    text: str,
    ways: Iterable[tuple[str, str]],
    stated: float,
    system: System,
    *,
    form: str,
    assumed: bool = True,
    count: int = 1,
    joined: bool = False,
    by_width: bool = False,
) -> tuple[BeltReading, ...]:
    """One reading for each (section, basis) that gives a possible belt."""
    found: list[BeltReading] = []
    problem: UnknownMark | None = None
    for code, basis in ways:
        try:
            found.append(
                _reading(
                    text, code, basis, stated, system=system, assumed=assumed, form=form,
                    count=count, joined=joined, by_width=by_width,
                )
            )  # fmt: skip
        except UnknownMark as raised:
            problem = raised
    if not found and problem is not None:
        raise problem
    return tuple(found)


def _reading(
    text: str,
    code: str,
    basis: str,
    stated: float,
    *,
    system: System,
    assumed: bool,
    form: str,
    count: int = 1,
    joined: bool = False,
    by_width: bool = False,
    width: float | None = None,
    teeth: int | None = None,
) -> BeltReading:
    belt = section(code)
    if form in _METRIC:
        system = _metric(system)
    system, known = _lengths(belt, basis, stated, system)
    _possible(text or belt.code, belt, known)
    reading = BeltReading(
        section=belt.code,
        count=count,
        inside=known.get("inside"),
        datum=known.get("datum"),
        outside=known.get("outside"),
        effective=known.get("effective"),
        system=system,
        basis=basis,
        assumed=assumed,
        form=form,
        words="",
        text=text,
        stated=stated,
        width=width,
        teeth=teeth,
        joined=joined,
        by_width=by_width,
    )
    return replace(reading, words=_words(reading, belt))


def _metric(system: System) -> System:
    """A mark in millimetres is no inch belt: the RMA step is for bare inch numbers only."""
    return System.ISO_DIN if system == System.RMA else system


def _sectionless(text: str, basis: str, stated: float, system: System) -> BeltReading:
    reading = BeltReading(
        section="",
        count=1,
        inside=stated if basis == "inside" else None,
        datum=stated if basis == "datum" else None,
        outside=stated if basis == "outside" else None,
        effective=stated if basis == "effective" else None,
        system=system,
        basis=basis,
        assumed=not basis,
        form="bare length" if basis else "number alone",
        words="",
        text=text,
        stated=stated,
    )
    named = gettext("{stated}, which length is not said").format(stated=_mm(stated))
    if basis:
        named = gettext("{basis} length {stated}").format(
            basis=basis.capitalize(), stated=_mm(stated)
        )
    return replace(reading, words=gettext("{named}; the section is not said.").format(named=named))


def _lengths(
    belt: Section, basis: str, stated: float, wanted: System
) -> tuple[System, dict[str, float]]:
    """All lengths that follow from one; the wanted system where the section has it."""
    known = {basis: stated}
    try:
        system = lengths.system_for(belt.code, wanted=wanted)
    except NotSourced:
        return wanted, _lengths_without_datum(belt, basis, known)
    iso = System.ISO_DIN
    if basis == "effective":
        return system, known
    if basis == "outside":
        known["datum"] = lengths.datum_from_outside(belt.code, stated)
        # round the top to under the belt is the belt's own thickness, whatever the system
        known["inside"] = lengths.inside_from_datum(belt.code, known["datum"], system=iso)
    elif basis == "inside":
        known["datum"] = lengths.datum_from_inside(belt.code, stated, system=system)
        known["outside"] = lengths.outside_from_datum(
            belt.code, lengths.datum_from_inside(belt.code, stated, system=iso)
        )
    else:
        known["inside"] = lengths.inside_from_datum(belt.code, stated, system=system)
        known["outside"] = lengths.outside_from_datum(belt.code, stated)
    return system, known


def _lengths_without_datum(belt: Section, basis: str, known: dict[str, float]) -> dict[str, float]:
    round_height = 2 * pi * belt.height if belt.sizes else 0.0
    if basis == "pitch":
        known["datum"] = known[basis]
    elif basis == "effective":
        with suppress(NotSourced):
            known["datum"] = lengths.cord_from_effective(belt.code, known[basis])
    elif belt.family in (Family.LIGHT_DUTY, Family.AUTOMOTIVE):
        # outside and inside of any loop differ by 2 pi times its height
        if basis == "outside":
            known["inside"] = known[basis] - round_height
        elif basis == "inside":
            known["outside"] = known[basis] + round_height
    return known


def _possible(text: str, belt: Section, known: dict[str, float]) -> None:
    least = pi * _smallest(belt)
    for length in known.values():
        if not least < length <= lengths.LONGEST:
            raise UnknownMark(
                gettext(
                    "{text}: no {belt} belt is {length} long; accepted: {least} to {longest}"
                ).format(
                    text=text,
                    belt=belt.code,
                    length=both_text(length),
                    least=both_text(least),
                    longest=both_text(lengths.LONGEST),
                )
            )


def _smallest(belt: Section) -> float:
    if belt.min_diameter is not None:
        return belt.min_diameter.value
    if belt.pitch is not None:
        return 10 * belt.pitch.value / pi  # ten teeth
    return 0.05


def _ribs(text: str, ribs: str) -> int:
    count = int(ribs)
    if not 1 <= count <= 60:
        raise UnknownMark(
            gettext("{text}: {count} ribs; accepted: 1 to 60").format(text=text, count=count)
        )
    return count


def _plain(number: str) -> str:
    return f"{float(number):g}"


def _codes_of_width(width: str) -> tuple[str, ...]:
    return _WIDTHS.get(_plain(width), ())


def _codes_of_size(width: float, height: float) -> tuple[str, ...]:
    families = (Family.CLASSICAL, Family.NARROW, Family.AUTOMOTIVE)
    return tuple(
        code
        for code, belt in SECTIONS.items()
        if belt.family in families
        and any(
            abs(size.width.value - width) < 0.00055 and abs(size.height.value - height) < 0.00055
            for size in belt.sizes
        )
    )


def _kept(belt: Section, basis: str, stated: float) -> bool:
    """Whether a belt is listed or kept whose length this could be."""
    try:
        listed = lengths.stocked(belt.code, system=System.ISO_DIN)
    except NotSourced:
        return False
    for item in listed:
        length = item.datum if basis == "datum" else item.inside
        if length is not None and abs(length - stated) < 0.0011:
            return True
    return False


# Several marks


def _together(
    parts: list[tuple[str, tuple[BeltReading, ...]]], unread: list[str], wanted: System
) -> MarkReading:
    code = next((way.section for _, ways in parts for way in ways if way.section), "")
    firm = [(text, ways) for text, ways in parts if ways[0].basis]
    numbers = [(text, _number_ways(ways[0], code)) for text, ways in parts if not ways[0].basis]
    left = _consistent([*firm, *numbers], wanted)
    aside = list(unread)
    if not left and numbers:
        # a number alone that fits nothing is a batch or date code
        left = _consistent(firm, wanted)
        aside += [text for text, _ in numbers]
    kept = tuple(parts)
    note = gettext(" Not read: {aside}.").format(aside=", ".join(aside)) if aside else ""
    if not left and not code:
        left = _sections_by_step([ways[0] for _, ways in firm], wanted)
    if not left:
        first = tuple(ways[0] for _, ways in firm)
        said = "; ".join(f"{way.text}: {way.words.rstrip('.')}" for way in first)
        return MarkReading(
            readings=first,
            agreed=False,
            settle=gettext(
                "Read the marks again; if both stand there, measure the outside length and the "
                "top width with the belt off."
            ),
            words=gettext("These marks cannot be of one belt. {said}.{note}").format(
                said=said, note=note
            ),
            outcome="differ",
            parts=kept,
            unread=tuple(aside),
        )
    if len(left) == 1 and left[0].section and code:
        return MarkReading(
            readings=(left[0],),
            agreed=True,
            settle="",
            words=left[0].words + _other_systems(left[0]) + note,
            outcome="agree",
            parts=kept,
            unread=tuple(aside),
        )
    missing = not code
    settle = _section_settle() if missing else _settle(left)
    words = " Or: ".join(way.words for way in left) + note
    outcome = "section missing" if missing else gettext("more than one reading")
    return MarkReading(
        readings=tuple(left),
        agreed=False,
        settle=settle,
        words=words,
        outcome=outcome,
        parts=kept,
        unread=tuple(aside),
    )


def _sections_by_step(bare: list[BeltReading], wanted: System) -> list[BeltReading]:
    """The sections whose step from inside to datum or outside length is the one between two bare
    lengths: 660 Li and 690 Ld are 30 mm apart, as in section A."""
    found = []
    for code, belt in SECTIONS.items():
        if belt.family not in (Family.CLASSICAL, Family.NARROW) or not lengths.systems_of(code):
            continue
        named = [
            replace(bare[0], section=code, form=_METRIC[0], by_width=True),
            *(replace(way, section="") for way in bare[1:]),
        ]
        merged = _merge(tuple(named), wanted)
        if merged is not None:
            found.append(replace(merged, assumed=True, form="bare length"))
    return found


def _number_ways(alone: BeltReading, code: str) -> tuple[BeltReading, ...]:
    return tuple(
        replace(_sectionless(alone.text, basis, alone.stated, alone.system), assumed=True)
        for basis in ("inside", "datum", "outside", "effective")
    )


def _consistent(
    parts: list[tuple[str, tuple[BeltReading, ...]]], wanted: System
) -> list[BeltReading]:
    """Every belt of which all the marks could be, likeliest first, each once."""
    found: list[BeltReading] = []
    for ways in product(*(ways for _, ways in parts)):
        merged = _merge(ways, wanted)
        if merged is not None and not any(_same(merged, other) for other in found):
            found.append(merged)
    return found


def _same(one: BeltReading, other: BeltReading) -> bool:
    if (one.section, one.count, one.joined) != (other.section, other.count, other.joined):
        return False
    pairs = (
        (one.inside, other.inside),
        (one.datum, other.datum),
        (one.outside, other.outside),
        (one.effective, other.effective),
    )
    return all(a is None or b is None or abs(a - b) < SAME_LENGTH for a, b in pairs)


def _merge(ways: tuple[BeltReading, ...], wanted: System) -> BeltReading | None:
    if len(ways) == 1:
        return ways[0]
    named = [way for way in ways if way.section]
    if not named:
        return None if _spread(ways) else ways[0]
    code = _one_section(named)
    if code is None:
        return None
    counts = {way.count for way in named if way.count > 1}
    if len(counts) > 1:
        return None
    belt = section(code)
    if all(way.form != _INCHES for way in named):
        wanted = _metric(wanted)
    stated: dict[str, float] = {}
    for way in sorted(ways, key=lambda way: way.form == _INCHES):
        basis, value = way.basis, way.stated
        if basis in stated and abs(stated[basis] - value) > SAME_LENGTH:
            return None
        stated.setdefault(basis, value)
    try:
        system = _fitting_system(belt, stated, wanted)
    except DriveError:
        return None
    if system is None:
        return None
    lead = next((way for way in named if way.basis == "datum"), named[0])
    basis = next(basis for basis in _RANK if basis in stated)
    try:
        system, known = _lengths(belt, basis, stated[basis], system)
        known |= stated
        _possible(lead.text, belt, known)
    except DriveError:
        return None
    merged = replace(
        lead,
        section=code,
        count=max(way.count for way in named),
        joined=any(way.joined for way in named),
        inside=known.get("inside"),
        datum=known.get("datum", known.get("pitch")),
        outside=known.get("outside"),
        effective=known.get("effective"),
        system=system,
        basis=basis,
        stated=stated[basis],
        assumed=False,
        by_width=all(way.by_width for way in named),
        text=" ".join(way.text for way in ways),
    )
    words = _words(merged, belt)
    names = {way.section for way in named}
    if len(names) > 1 and not names.isdisjoint(_LIGHT_TWINS):
        words += gettext(" It carries the light-duty name too: buy by the heavier one.")
    return replace(merged, words=words)


def _spread(ways: tuple[BeltReading, ...]) -> bool:
    """Whether lengths without a section contradict each other."""
    by_basis: dict[str, float] = {}
    for way in ways:
        if abs(by_basis.setdefault(way.basis, way.stated) - way.stated) > SAME_LENGTH:
            return True
    return len(by_basis) > 1  # two different lengths need a section to be compared


def _one_section(named: list[BeltReading]) -> str | None:
    codes = {way.section for way in named}
    if len(codes) == 1:
        return codes.pop()
    # A26 with 4L280: two names of one size
    plain = {_LIGHT_TWINS.get(code, code) for code in codes}
    if len(plain) == 1:
        return plain.pop()
    # a width alone fits the cogged belt as well
    if len(codes) == 2:
        short, long = sorted(codes, key=len)
        widths_only = all(way.by_width for way in named if way.section == short)
        if long == short + "X" and widths_only:
            return long
    return None


def _fitting_system(belt: Section, stated: dict[str, float], wanted: System) -> System | None:
    """The system in which all the stated lengths are of one belt; the wanted one if it is."""
    first = (
        lengths.system_for(belt.code, wanted=wanted) if lengths.systems_of(belt.code) else wanted
    )
    misses: list[tuple[float, System]] = []
    for system in (first, *(other for other in System if other is not first)):
        try:
            misses.append((_miss(belt, stated, system), system))
        except NotSourced:
            continue
    if not misses:
        return None
    if misses[0][1] is first and misses[0][0] < SAME_LENGTH / 2:
        return first
    miss, system = min(misses, key=lambda pair: pair[0])
    return system if miss <= SAME_LENGTH else None


def _miss(belt: Section, stated: dict[str, float], system: System) -> float:
    """Largest gap [m] between a stated length and what the others make of it."""
    worst = 0.0
    for basis, value in stated.items():
        try:
            _, known = _lengths(belt, basis, value, system)
        except NotSourced:
            continue
        for other, told in stated.items():
            if other in known:
                worst = max(worst, abs(known[other] - told))
            elif other != basis:
                return float("inf")  # the two lengths cannot be compared for this section
    return worst


# Words


def _mm(length: float) -> str:
    return both_text(length)


def _words(reading: BeltReading, belt: Section) -> str:
    size = gettext("{family} section {belt}").format(family=belt.family, belt=belt.code)
    if belt.sizes and belt.family is not Family.RIBBED:
        size += f", {sizes_text(belt.top_width, belt.height)}"
    if belt.family is Family.RIBBED:
        size += gettext(", {count} ribs").format(count=reading.count)
    if reading.joined:
        size += (
            gettext(", joined, {count} strands").format(count=reading.count)
            if reading.count > 1
            else ", joined"
        )
    given = [
        f"{name} {_mm(length)}"
        for name, length in (
            ("inside", reading.inside),
            ("datum", reading.datum if reading.teeth is None else None),
            ("outside", reading.outside),
            ("effective", reading.effective),
        )
        if length is not None
    ]
    if reading.teeth is not None:
        given.append(
            gettext("pitch length {stated}, {teeth} teeth").format(
                stated=_mm(reading.stated), teeth=reading.teeth
            )
        )
        if reading.width is not None:
            given.append(gettext("{width} wide").format(width=sizes_text(reading.width)))
    said = f"{size[0].upper()}{size[1:]}: {', '.join(given)}"
    if reading.inside is not None and reading.datum is not None:
        said += f" ({reading.system})"
    said += "."
    if reading.assumed:
        said += gettext(" The mark does not say which length it is; taken as {basis}.").format(
            basis=reading.basis
        )
    if belt.family is Family.SYNCHRONOUS:
        said += gettext(" A toothed belt does not run in V grooves.")
    elif belt.family is Family.RIBBED:
        said += gettext(" A ribbed belt does not run in single V grooves.")
    elif belt.family is Family.DOUBLE:
        said += gettext(" Six-sided, drives from both faces.")
    elif belt.family is Family.LIGHT_DUTY:
        twin = _LIGHT_TWINS.get(belt.code)
        if twin:
            said += gettext(
                " Light duty: it carries less than section {twin} of the same width."
            ).format(twin=twin)
    return said


def _other_systems(reading: BeltReading) -> str:
    """What the same inch number is in the other systems, where the datum length was worked out."""
    if reading.basis != "inside" or reading.inside is None:
        return ""
    others = [
        gettext("{mm} in the {system} system").format(
            mm=_mm(lengths.datum_from_inside(reading.section, reading.inside, system=system)),
            system=system,
        )
        for system in lengths.systems_of(reading.section)
        if system is not reading.system
    ]
    return (
        gettext(" The datum length would be {others}.").format(others=" and ".join(others))
        if others
        else ""
    )


def _section_settle() -> str:
    widths = ", ".join(
        gettext("{top_width} is {belt}").format(
            top_width=sizes_text(belt.top_width), belt=belt.code
        )
        for belt in (section(code) for code in ("Z", "A", "B", "C"))
    )
    return gettext("Measure the top width of the belt: {widths}; then the height.").format(
        widths=widths
    )


def _settle(left: list[BeltReading]) -> str:
    codes = {way.section for way in left}
    if len(codes) > 1:
        sizes = sorted((section(code).height, section(code).top_width, code) for code in codes)
        if len({height for height, _, _ in sizes}) == len(sizes):
            told = ", ".join(
                gettext("{height} is {code}").format(height=sizes_text(height), code=code)
                for height, _, code in sizes
            )
            return gettext("Measure the height of the belt: {told}.").format(told=told)
        told = ", ".join(
            gettext("{width} is {code}").format(width=sizes_text(width), code=code)
            for _, width, code in sizes
        )
        return gettext("Measure the top width of the belt, and find a second mark: {told}.").format(
            told=told
        )
    tape = [way for way in left if way.outside is not None]
    if len(tape) == len(left) > 1:
        told = "; ".join(
            gettext("about {outside} means that the {basis} length is marked").format(
                outside=_mm(way.outside or 0), basis=way.basis
            )
            for way in tape
        )
        return gettext(
            "Lay a tape round the outside of the belt: {told}. Or find a second mark on it."
        ).format(told=told)
    return gettext("Find a second mark on the belt, or lay a tape round the outside.")


# Writing


def _writings(reading: BeltReading, belt: Section) -> list[tuple[str, System]]:
    code = belt.code
    found: list[tuple[str, System]] = []
    family = belt.family
    if family in (Family.CLASSICAL, Family.COGGED) and reading.datum is not None:
        found = _classical_writings(reading, belt)
    elif family in (Family.NARROW, Family.NARROW_COGGED) and reading.datum is not None:
        found.append((f"{code} {reading.datum * 1e3:.0f}", System.ISO_DIN))
        found.append((f"{code} {reading.datum * 1e3:.0f} Lw", System.ISO_DIN))
    elif family is Family.INCH_NARROW and reading.effective is not None:
        found.append((f"{code}{reading.effective / INCH * 10:.0f}", System.RMA))
        if not belt.cogged:
            size = next(size for size, name in _ISO_5290.items() if name == code)
            kind = "J" if reading.joined else "N"
            found.append((f"{size}{kind} {reading.effective * 1e3:.0f}", System.ISO_DIN))
        if reading.joined and reading.count > 1:
            found = [(f"{reading.count}/{mark}", system) for mark, system in found]
        elif reading.joined:
            found[0] = (f"R{found[0][0]}", System.RMA)
    elif family is Family.LIGHT_DUTY and reading.outside is not None:
        found.append((f"{code}{reading.outside / INCH * 10:.0f}", System.RMA))
    elif family is Family.AUTOMOTIVE and reading.outside is not None:
        found.append((f"{code}x{reading.outside * 1e3:.0f} La", System.ISO_DIN))
        width = "12.5" if code == "AVX13" else "9.5"
        found.append((f"{width}x{reading.outside * 1e3:.0f} La", System.ISO_DIN))
    elif family is Family.RIBBED and reading.effective is not None:
        found.append((f"{reading.count}{code}{reading.effective * 1e3:.0f}", System.ISO_DIN))
        tenths = f"{reading.effective / INCH * 10:.0f}"
        found.append((f"{tenths}{code[1]}{reading.count}", System.RMA))
    elif family is Family.DOUBLE:
        if reading.inside is not None:
            found.append((f"{code}{reading.inside / INCH:.0f}", System.RMA))
        elif reading.datum is not None:
            found.append((f"H{code} {reading.datum * 1e3:.0f} Ld", System.ISO_DIN))
    elif family is Family.SYNCHRONOUS:
        found += _toothed_writings(reading, belt)
    return found


def _classical_writings(reading: BeltReading, belt: Section) -> list[tuple[str, System]]:
    code, datum = belt.code, reading.datum
    assert datum is not None
    lead = f"{reading.count}/" if reading.joined and reading.count > 1 else ""
    if reading.joined and not lead:
        lead = "R"
    found: list[tuple[str, System]] = []
    for system in lengths.systems_of(code):
        stated = reading.basis == "inside" or system is reading.system
        if stated and reading.inside is not None:
            inside = reading.inside
        else:
            inside = lengths.inside_from_datum(code, datum, system=system)
        number = round(inside / INCH)
        if abs(number * INCH - inside) <= 0.006 and code[0].isalpha():
            found.append((f"{lead}{code}{number}", system))
    iso_inside = reading.inside if reading.system == System.ISO_DIN else None
    if iso_inside is None:
        iso_inside = lengths.inside_from_datum(code, datum, system=System.ISO_DIN)
    width = f"{belt.top_width * 1e3:g}"
    if code[0].isalpha():
        found.append((f"{lead}{code} {datum * 1e3:.0f} Ld", System.ISO_DIN))
        found.append((f"{lead}{code} {iso_inside * 1e3:.0f} Li", System.ISO_DIN))
        found.append((f"{lead}{width}{code}{datum * 1e3:.0f} Ld", System.ISO_DIN))
    if not belt.cogged and not lead:
        found.append((f"{width}x{iso_inside * 1e3:.0f} Li", System.ISO_DIN))
    return found


def _toothed_writings(reading: BeltReading, belt: Section) -> list[tuple[str, System]]:
    if reading.width is None:
        return []
    wide, code = reading.width, belt.code
    if code in ("XL", "L", "H", "XH"):
        hundredths = int(wide / INCH * 100 + 1e-6)
        return [(f"{reading.stated / INCH * 10:.0f}{code}{hundredths:03d}", System.RMA)]
    if code.startswith("T"):
        return [(f"{code}-{reading.stated * 1e3:.0f}-{wide * 1e3:.0f}", System.ISO_DIN)]
    return [(f"{reading.stated * 1e3:.0f}-{code}-{wide * 1e3:.0f}", System.ISO_DIN)]


def _shared_length(one: BeltReading, other: BeltReading) -> tuple[float, float]:
    for name in ("datum", "effective", "outside", "inside"):
        first, second = getattr(one, name), getattr(other, name)
        if first is not None and second is not None:
            return first, second
    return one.stated, other.stated


def _off_words(mark: str, off: float, back: BeltReading) -> str:
    length = back.datum if back.datum is not None else back.stated
    kind = "datum" if back.datum is not None else back.basis
    said = gettext("{mark}: {kind} {length} in the {system} system").format(
        mark=mark, kind=kind, length=_mm(length), system=back.system
    )
    if abs(off) < 0.0005:
        return said + "."
    return f"{said}, {length_text(abs(off))} {'longer' if off > 0 else 'shorter'}."
