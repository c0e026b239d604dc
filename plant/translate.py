"""Text of the packages that know no framework, looked up in another language by whoever runs them.

The application gives its way of looking up when it starts. Until then, and for whoever uses the
sums alone, text stays as it is written. Names in braces are filled in afterwards, by format().
"""

from collections.abc import Callable

_one: list[Callable[[str], str]] = []
_counted: list[Callable[[str, str, int], str]] = []


def look_up_by(one: Callable[[str], str], counted: Callable[[str, str, int], str]) -> None:
    """From now on a text is looked up by one, and a text that counts something by counted."""
    _one[:], _counted[:] = [one], [counted]


def gettext(text: str) -> str:
    """The text in the language of whoever is being answered."""
    return _one[0](text) if _one else text


def ngettext(singular: str, plural: str, count: int) -> str:
    """The text for so many, in the language of whoever is being answered."""
    if _counted:
        return _counted[0](singular, plural, count)
    return singular if count == 1 else plural


def gettext_noop(text: str) -> str:
    """The text itself: it is looked up where it is shown."""
    return text
