"""The embedded queue: one file a message, seen by the reader only when it is whole."""

import json
import os
import uuid
from pathlib import Path
from queue import Empty
from time import monotonic
from typing import Any

from kombu.transport import filesystem


class Channel(filesystem.Channel):
    """The parent writes into a file that is already in sight, so that a reader may find it empty
    and stop its worker; and it reads by way of the system's folder for temporary files. Here a
    message gets its name when it is complete, and whoever renames it has it alone.
    """

    def _put(  # type: ignore[override]  # its parents disagree on the names
        self, queue: str, message: Any, **_: Any
    ) -> None:
        folder = Path(self.data_folder_out)
        # Names sort in the order of sending, as far as one run of the machine goes.
        name = f"{round(monotonic() * 1000):015d}_{uuid.uuid4()}.{queue}.msg"
        hidden = folder / f".{name}.new"
        hidden.write_text(json.dumps(message), encoding="utf-8")
        hidden.rename(folder / name)

    def _get(self, queue: str, timeout: float | None = None) -> Any:
        folder = Path(self.data_folder_in)
        for name in sorted(os.listdir(folder)):
            if name.partition(".")[2] != f"{queue}.msg":
                continue
            mine = folder / f".{name}.taken"
            try:
                (folder / name).rename(mine)
            except FileNotFoundError:
                continue
            content = mine.read_text(encoding="utf-8")
            mine.unlink()
            return json.loads(content)
        raise Empty


class Transport(filesystem.Transport):
    """What Celery calls the broker, when there is none."""

    Channel = Channel
