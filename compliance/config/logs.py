"""One JSON object a log line, so that any collector can read it."""

import json
import logging
from datetime import UTC, datetime


class JSONLines(logging.Formatter):
    """Time, level, logger and message; the traceback when there is one."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as one line of JSON."""
        line = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False)
