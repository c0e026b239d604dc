"""Text of a form, a choice or a column, looked up when it is shown: it is read before anybody's
language is known. Within a function gettext itself serves, for there somebody is already waiting.
"""

from collections.abc import Callable
from typing import cast

from django.utils import translation
from django.utils.text import format_lazy

# It stands in for text wherever text is shown, and is told to the type checker as that.
gettext_lazy = cast(Callable[[str], str], translation.gettext_lazy)


def filled(text: str, **given: object) -> str:
    """Such a text with its names filled in, when it is shown."""
    return cast(str, format_lazy(text, **given))


def as_written(text: str) -> str:
    """The text as it stands in the code, whatever language is shown.

    Records are sealed in one language, and keys that are words are found by it.
    """
    with translation.override(None):
        return str(text)
