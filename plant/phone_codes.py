"""The figures that people sign in with on a shared phone, and the letters that enrol one. Pure."""

import secrets

from django.utils.translation import gettext

FIGURES = 6
# No 0/O, 1/I/L: the letters are read off one screen and typed into another.
LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
# Twelve of 31 letters are 59 bits; the code is good for an hour, once.
LINK_LETTERS = 12
_RUN = "01234567890123456789"


def refusal(code: str) -> str:
    """Why this cannot be anybody's code; empty when it can.

    Six figures that are not among the first that are tried: few different ones, a row up or down,
    a part said twice, or a mirror.
    """
    if len(code) != FIGURES or not (code.isascii() and code.isdigit()):
        return gettext("A code has six figures, 0 to 9.")
    if len(set(code)) < 3:
        return gettext("This has too few different figures. Take another.")
    if code in _RUN or code[::-1] in _RUN:
        return gettext("These figures stand in a row. Take another.")
    if code[:3] == code[3:] or code[:2] * 3 == code:
        return gettext("This says the same twice. Take another.")
    if code == code[::-1] or (code[:3] in _RUN and code[3:] in _RUN):
        return gettext("This is easily guessed. Take another.")
    return ""


def new_code() -> str:
    """Six figures by chance, none that would be refused."""
    while True:
        code = f"{secrets.randbelow(10**FIGURES):0{FIGURES}d}"
        if not refusal(code):
            return code


def new_link_code() -> str:
    return "".join(secrets.choice(LETTERS) for _ in range(LINK_LETTERS))


def in_fours(code: str) -> str:
    """The letters as they are shown: K7QP-3MXA-9RTC."""
    return "-".join(code[at : at + 4] for at in range(0, len(code), 4))


def typed_link_code(typed: str) -> str:
    """What was typed, without the strokes and in capitals."""
    return "".join(c for c in typed.upper() if c.isascii() and c.isalnum())[:64]
