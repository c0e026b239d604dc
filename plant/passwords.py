"""What may be a password: long, not common, and not made of what anybody knows. Pure.

NIST SP 800-63B-4 (from memory): at least 15 characters where the password is the only factor, any
character, no rules of composition, a list of what is common or expected, no end by time.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable

from django.utils.translation import gettext

SHORTEST, LONGEST = 15, 128
# So many letters or figures are left when every known word is taken out.
_LEFT = 8
# Words of this trade and of this page, which stand in many a first guess.
PRODUCT_WORDS = (
    "password", "passwort", "passphrase", "secret", "welcome", "letmein", "siteplant", "site",
    "plant", "depot", "yard", "machine", "mixer", "compactor", "breaker", "generator",
    "compressor", "pump", "manager", "administrator", "admin", "foreman", "fitter", "operator",
    "desk", "qwerty", "qwertyuiop", "asdfgh", "zxcvbn", "iloveyou",
)  # fmt: skip
_ROWS = ("01234567890123456789", "abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz",
         "qwertyuiopasdfghjklzxcvbnm")  # fmt: skip


def as_kept(password: str) -> str:
    """The password as it is worked on: composed (NFC), so that two keyboards write it alike."""
    return unicodedata.normalize("NFC", password)


def refusal(
    password: str, *, words: Iterable[str] = (), is_common: Callable[[str], bool] = lambda _: False
) -> str:
    """Why this cannot be a password, with what to do; empty when it can.

    Args:
        words: names that anybody here knows: of the person, the depots, the firm.
        is_common: whether a text in small letters stands in the list of common passwords.
    """
    password = as_kept(password)
    if len(password) < SHORTEST:
        return gettext(
            "This has {count} characters. Take {shortest} or more: four words will do."
        ).format(count=len(password), shortest=SHORTEST)
    if len(password) > LONGEST:
        return gettext("This has {count} characters. Keep to {longest}.").format(
            count=len(password), longest=LONGEST
        )
    folded = _plain(password)
    if is_common(password.casefold()) or is_common(folded) or _is_padded(folded, is_common):
        return gettext("This is among the first that are tried. Take another: four words will do.")
    if len(set(folded)) < 5 or _period(folded) * 3 <= len(folded) or _is_row(folded):
        return gettext("This repeats itself or runs in a row. Take another: four words will do.")
    left = folded
    for word in sorted({_plain(word) for word in (*words, *PRODUCT_WORDS)}, key=len, reverse=True):
        if len(word) >= 3:
            left = left.replace(word, "")
    if len(left) < _LEFT and left != folded:
        return gettext("This is built from names that are known here. Take other words.")
    return ""


def known_words(*names: str) -> list[str]:
    """The names and their parts, for ``refusal``."""
    return [part for name in names for part in (name, *re.split(r"[^\w]+", name)) if part]


def _plain(text: str) -> str:
    """Small letters without accents, letters and figures only, look-alikes as letters."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    kept = "".join(c for c in apart if c.isalnum())
    return kept or text


def _is_padded(folded: str, is_common: Callable[[str], bool]) -> bool:
    """A common one with figures at its end, or said several times."""
    core = folded.strip("0123456789")
    unit = folded[: _period(folded)]
    return any(len(each) >= 4 and is_common(each) for each in (core, unit) if each != folded)


def _period(text: str) -> int:
    """The length of the part that the text repeats; its own length where it repeats none."""
    return (text + text).find(text, 1) if text else 0


def _is_row(text: str) -> bool:
    return any(text in row * 3 or text[::-1] in row * 3 for row in _ROWS)
