"""The service's own log: one JSON object a line on standard error. It holds no crew's text and no secret."""

import json
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

from aiohttp.http_exceptions import HttpProcessingError


class JsonLines(logging.Formatter):
    """A record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """When, how bad, where from, what, and the traceback where there is one."""
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
            "what": record.getMessage(),
        }
        # What was no HTTP stands in the text of its error, and may hold anything.
        if record.exc_info and not isinstance(record.exc_info[1], HttpProcessingError):
            line["error"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False)


@contextmanager
def logged_as_json(level: str) -> Iterator[None]:
    """Send everything from `level` up to standard error, as it is now, until the end.

    What was there before comes back then: who goes on would write to a stream that may be closed.
    """
    root = logging.getLogger()
    before, level_before = root.handlers[:], root.level
    lines = logging.StreamHandler()
    lines.setFormatter(JsonLines())
    root.handlers[:] = [lines]
    root.setLevel(level.upper())
    try:
        yield
    finally:
        root.handlers[:] = before
        root.setLevel(level_before)
