"""Words that people type: what is let in, and when two machine numbers are the same."""

import re
import unicodedata

from plant.translate import gettext as _

LONGEST_NUMBER = 32


class TextRefused(ValueError):
    """The text holds something that cannot be kept, or is too short or too long."""


def clean(text: str, *, low: int = 0, high: int = 2000, lines: bool = True) -> str:
    """The text as it is stored: composed (NFC), line breaks as one character, no outer space.

    Args:
        text: as it came in.
        low: [characters] at least so many, counted on what is returned; from 1 on, one of them
            must be visible.
        high: [characters] at most so many.
        lines: whether line breaks are allowed.

    Raises:
        TextRefused: too short, too long, or holding a control character, half of a character
            (a lone surrogate) or a mark that turns the direction of writing.

    Source:
        Unicode Standard Annex 15 for composition and Annex 9, section 2, for the marks
        U+202A to U+202E and U+2066 to U+2069, which can make a text read as another.
    """
    # Composition shortens by less than four times, so nothing this long could pass afterwards;
    # told apart here, a huge text costs nothing.
    if len(text) > 4 * high + 100:
        raise TextRefused(_too_long(high))
    kept = unicodedata.normalize("NFC", _LINE_BREAKS.sub("\n", text)).strip()
    for one in kept:
        _refuse(one, lines=lines)
    if len(kept) > high:
        raise TextRefused(_too_long(high))
    if len(kept) < low or (low and not any(_visible(one) for one in kept)):
        raise TextRefused(
            _("This is empty. Write something here.")
            if low == 1
            else _("This is too short. Write at least {low} characters.").format(low=low)
        )
    return kept


def number_key(asset_number: str) -> str:
    """What two spellings of one machine number have in common: "mx 203" gives "MX203".

    Noughts in front count: "00412" and "412" are two machines. A point counts for nothing, so
    "12.5" and "1.25" are one; who adds the second is asked.

    Raises:
        TextRefused: empty, longer than 32, without a letter or figure, or with other characters
            than A to Z, 0 to 9, hyphen, point, stroke and space.
    """
    given = asset_number.strip(" ")
    if len(given) > LONGEST_NUMBER:
        raise TextRefused(
            _("A number has at most {longest_number} characters. Shorten it.").format(
                longest_number=LONGEST_NUMBER
            )
        )
    # Before capitals are made: those of some foreign letters are plain A to Z.
    if not re.fullmatch(r"[A-Za-z0-9./ -]*", given):
        raise TextRefused(
            _("Use only A to Z, 0 to 9, hyphen, point, stroke and space in a number.")
        )
    key = re.sub(r"[^A-Z0-9]", "", given.upper())
    if not key:
        raise TextRefused(_("The number is empty. Use at least one letter or figure."))
    return key


_LINE_BREAKS = re.compile("\r\n|\r|\u2028|\u2029")
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def _refuse(one: str, *, lines: bool) -> None:
    if one == "\n":
        if not lines:
            raise TextRefused(_("This has to stay on one line. Take the line break out."))
        return
    if one in _TURNING:
        raise TextRefused(_("The text holds a mark that turns the writing round. Type it again."))
    kind = unicodedata.category(one)
    if kind == "Cs":
        raise TextRefused(_("The text holds half of a character. Type it again."))
    if kind == "Cc":
        name = "tab" if one == "\t" else _("control character {sign}").format(sign=ord(one))
        raise TextRefused(
            _("The text holds a {name}. Take it out, or use spaces.").format(name=name)
        )


def _visible(one: str) -> bool:
    return unicodedata.category(one)[0] not in "CZ" and one != "\u2800"


def _too_long(high: int) -> str:
    return (
        _("This is too long. Keep to {high} characters.").format(high=f"{high:,}").replace(",", " ")
    )
