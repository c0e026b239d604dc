"""The site, but one address takes three seconds to answer: for trying what a stop does to it."""

import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from plant.config.wsgi import application as site


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    if environ["PATH_INFO"].startswith("/slow"):
        Path(environ["QUERY_STRING"]).touch()
        time.sleep(3)
        start_response("200 OK", [("Content-Type", "text/plain")])
        return [b"finished"]
    return site(environ, start_response)
