"""Text of a form, a choice or a column, looked up when it is shown: it is read before anybody's
language is known. Within a function gettext itself serves, for there somebody is already waiting.
"""

from collections.abc import Callable
from typing import cast

from django.utils import translation

# It stands in for text wherever text is shown, and is told to the type checker as that.
gettext_lazy = cast(Callable[[str], str], translation.gettext_lazy)
