"""Log lines as JSON, one a line, in UTC; user text is escaped by the JSON form itself."""

import json
import logging
import os
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

_PLAIN = frozenset(vars(logging.makeLogRecord({}))) | {
    "message",
    "asctime",
    "request",
    "server_time",
}


class JsonLines(logging.Formatter):
    """Writes time, level, logger, message and whatever was given as ``extra``."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
            "what": record.getMessage(),
        }
        for name, value in vars(record).items():
            if name not in _PLAIN and isinstance(value, str | int | float | bool | None):
                line[name] = value
        # What was turned away on purpose, a role too low for instance, is a line without its trace.
        if record.exc_info and getattr(record, "status_code", 500) >= 500:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=True)


class DayFiles(logging.Handler):
    """Adds each line to a file of its UTC day, which several processes may do side by side.

    A file that were renamed when it is full would be renamed under another process. Files are
    kept for thirty days, since they hold addresses of people, and one takes ``most_bytes``: who
    knocks without end fills no disk.
    """

    def __init__(self, folder: str | Path, *, days: int = 30, most_bytes: int = 50 * 2**20) -> None:
        super().__init__()
        self.folder, self.days, self.most_bytes = Path(folder), days, most_bytes
        self._day, self._file = "", -1

    def emit(self, record: logging.LogRecord) -> None:
        try:
            self._turn(datetime.fromtimestamp(record.created, UTC))
            if os.fstat(self._file).st_size < self.most_bytes:
                # One write to a file opened for adding is not mixed with that of another process.
                os.write(self._file, f"{self.format(record)}\n".encode())
        except Exception:  # a full disk must not fail what is being noted
            self.handleError(record)

    def close(self) -> None:
        if self._file >= 0:
            os.close(self._file)
            self._day, self._file = "", -1
        super().close()

    def _turn(self, at: datetime) -> None:
        day = at.date().isoformat()
        if day == self._day:
            return
        if self._file >= 0:
            os.close(self._file)
            self._day, self._file = "", -1
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        name = self.folder / f"{day}.jsonl"
        self._file = os.open(name, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        self._day = day
        oldest = (at.date() - timedelta(days=self.days)).isoformat()
        for old in self.folder.glob("????-??-??.jsonl"):
            if old.stem < oldest:
                with suppress(OSError):
                    old.unlink()
