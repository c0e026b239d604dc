"""Log lines as JSON, one a line, in UTC; user text is escaped by the JSON form itself."""

import json
import logging
from datetime import UTC, datetime

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
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=True)
