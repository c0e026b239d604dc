"""The addresses of a list's things: the pattern is looked up once, not for each row."""

import html
from functools import cache

from django.urls import reverse
from django.utils.safestring import SafeString

_NUMBER = 987654321


def address_of(name: str, pk: int) -> str:
    """The address of the page of that name for the thing with that key."""
    before, after = _around(name)
    return f"{before}{pk}{after}"


def link_to(name: str, pk: int, words: str) -> SafeString:
    """A link to that page; the words are escaped."""
    return SafeString(f'<a href="{address_of(name, pk)}">{html.escape(words)}</a>')


@cache
def _around(name: str) -> tuple[str, str]:
    before, _, after = reverse(name, args=[_NUMBER]).partition(str(_NUMBER))
    return before, after
