"""The addresses of a list's things: the pattern is looked up once, not for each row."""

from functools import cache

from django.urls import reverse

_NUMBER = 987654321


def address_of(name: str, pk: int) -> str:
    """The address of the page of that name for the thing with that key."""
    before, after = _around(name)
    return f"{before}{pk}{after}"


@cache
def _around(name: str) -> tuple[str, str]:
    before, _, after = reverse(name, args=[_NUMBER]).partition(str(_NUMBER))
    return before, after
