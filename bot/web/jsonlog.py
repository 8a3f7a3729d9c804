"""The service's own log: one JSON object a line on standard error. It holds no crew's text and no secret."""

import json
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

from aiohttp.http_exceptions import HttpProcessingError

MOST_LINES = 1000  # kinds of lines that are counted


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


class FewAlike(logging.Filter):
    """Of one line that comes again and again so many a minute, and then how many more there were: whoever
    makes it come must not fill the disk."""

    def __init__(self, most: int = 30, per_s: float = 60.0) -> None:
        super().__init__()
        self._most, self._per_s = most, per_s
        self._seen: dict[tuple[str, int, str], tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether this one is written."""
        # By its words as they stand in the code, or as far as they are always the same.
        name = (record.name, record.levelno, str(record.msg)[:60])
        since, count = self._seen.pop(name, (record.created, 0))
        if not 0 <= record.created - since < self._per_s:
            if count > self._most:
                record.msg, record.args = f"{record.getMessage()} ({count - self._most} more like it)", ()
            since, count = record.created, 0
        self._seen[name] = (since, count + 1)
        if len(self._seen) > MOST_LINES:
            del self._seen[next(iter(self._seen))]
        return count < self._most


@contextmanager
def logged_as_json(level: str) -> Iterator[None]:
    """Send everything from `level` up to standard error, as it is now, until the end.

    What was there before comes back then: who goes on would write to a stream that may be closed.
    """
    root = logging.getLogger()
    before, level_before = root.handlers[:], root.level
    lines = logging.StreamHandler()
    lines.setFormatter(JsonLines())
    lines.addFilter(FewAlike())
    root.handlers[:] = [lines]
    root.setLevel(level.upper())
    try:
        yield
    finally:
        root.handlers[:] = before
        root.setLevel(level_before)
