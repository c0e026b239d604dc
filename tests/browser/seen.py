"""What the browser tests share: two sizes of screen, the running depot, and the look at a page."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

from playwright.sync_api import Page

PHONE: dict[str, Any] = {
    "viewport": {"width": 360, "height": 640}, "has_touch": True, "is_mobile": True,
    "device_scale_factor": 2,
}  # fmt: skip
DESK: dict[str, Any] = {"viewport": {"width": 1440, "height": 900}}
# Opens a page: phone, name (who is signed in), script.
Opener: TypeAlias = Callable[..., Page]


@dataclass(frozen=True)
class Depot:
    """The running depot: its address, its data, and the objects of scenes.py."""

    address: str
    folder: Path
    found: dict[str, Any]
