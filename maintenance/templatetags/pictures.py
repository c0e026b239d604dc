"""The drawings of a check: what to look at, for those who would rather look than read."""

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Final

from django import template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

register = template.Library()

FOLDER: Final = Path(__file__).resolve().parents[1] / "pictures"
KEY: Final = re.compile(r"[a-z]{1,20}(?:_[a-z]{1,20}){0,3}")

_INSIDE = re.compile(r"<svg\b[^>]*>(.*)</svg>\s*", re.DOTALL)
_BETWEEN = re.compile(r">\s+<")
# What stands where a picture would: a frame with nothing in it.
_EMPTY: Final = '<rect x="4" y="4" width="88" height="64" rx="4"/>'


class PictureRefused(ValueError):
    """A file among the pictures that is none; the message names it."""


@cache
def pictures() -> Mapping[str, str]:
    """What is inside each picture, by its key; read once.

    Raises:
        PictureRefused: a file's name is no key, or it holds no single drawing.
    """
    found = {}
    for path in sorted(FOLDER.glob("*.svg")):
        inside = _INSIDE.fullmatch(path.read_text(encoding="utf-8"))
        if inside is None or not KEY.fullmatch(path.stem):
            raise PictureRefused(
                gettext("{path} among the pictures of the check cannot be used.").format(
                    path=path.name
                )
            )
        found[path.stem] = _BETWEEN.sub("><", inside[1].strip())
    return MappingProxyType(found)


@register.simple_tag
def picture(key: object) -> SafeString:
    """The drawing of this key: {% picture "belt_guard" %}; an empty frame where there is none.

    Nothing but the content of our own files comes out: the key itself is never written.
    """
    inside = pictures().get(str(key), _EMPTY)
    return mark_safe(_drawn(inside))  # noqa: S308 - our own files, nothing that anybody typed


@register.simple_tag
def pictures_all() -> SafeString:
    """Every drawing, each with its key, for the page that has to do without signal."""
    return mark_safe(  # noqa: S308 - our own files and their checked names
        "".join(_drawn(inside, f' data-drawing="{key}"') for key, inside in pictures().items())
    )


def _drawn(inside: str, more: str = "") -> str:
    return (
        f'<svg class="picture"{more} viewBox="0 0 96 72" width="72" height="54" aria-hidden="true"'
        f' focusable="false">{inside}</svg>'
    )
