"""The words of the scripts in another language: the framework's own catalogue, and its address."""

import hashlib
from functools import cache

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe
from django.views.i18n import JavaScriptCatalog

# The language of the code. What is shown in it needs no catalogue.
SOURCE = "en-gb"
# The same for everybody, and never another under one address.
kept = cache_control(public=True, max_age=31_536_000, immutable=True)
script_words = require_safe(kept(JavaScriptCatalog.as_view(packages=["plant"])))


def script_words_address() -> str:
    """Where the words of the language shown lie; nothing where that is the language of the code."""
    language = get_language() or SOURCE
    if language == SOURCE:
        return ""
    return f"{reverse('plant:script_words')}?{_version(language)}"


@cache
def _version(language: str) -> str:
    """Changes with the words, so that whoever keeps them takes the new ones."""
    asked = HttpRequest()
    asked.method = "GET"
    told = script_words(asked)
    assert isinstance(told, HttpResponse)
    return hashlib.sha256(told.content).hexdigest()[:12]
