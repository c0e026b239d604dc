"""The WSGI entry point for the web server."""

import os
from collections.abc import Callable, Iterable
from typing import Any

from django.conf import settings
from django.core.wsgi import get_wsgi_application
from granian.utils.proxies import wrap_wsgi_with_proxy_headers

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.config.settings")
_site = get_wsgi_application()
if settings.TRUSTED_PROXIES:
    _site = wrap_wsgi_with_proxy_headers(_site, trusted_hosts=settings.TRUSTED_PROXIES)


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    """The site; what comes in another alphabet than UTF-8 is marked for ``plant.http.readable``.

    A request that names an alphabet is read while it is made, before anything could turn it away.
    """
    given = environ.get("CONTENT_TYPE", "")
    if "charset" in given.lower() and not _is_utf8(given):
        environ["CONTENT_TYPE"], environ["plant.unreadable"] = "", "alphabet"
    return _site(environ, start_response)


def _is_utf8(content_type: str) -> bool:
    names = [part.partition("=") for part in content_type.lower().split(";")[1:]]
    charsets = [value.strip(" \"'") for name, _, value in names if name.strip() == "charset"]
    return bool(charsets) and all(each in {"utf-8", "utf8"} for each in charsets)
