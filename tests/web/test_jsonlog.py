"""The service's own log: one JSON object a line, with no text of a crew and no secret in it."""

import json
import logging
import sys

from aiohttp.http_exceptions import BadStatusLine

from bot.web.jsonlog import JsonLines


def _line(error: Exception) -> dict[str, str]:
    try:
        raise error
    except Exception:
        record = logging.LogRecord("x", logging.ERROR, "", 0, "went wrong\nat", (), sys.exc_info())
    line = JsonLines().format(record)
    assert "\n" not in line
    found: dict[str, str] = json.loads(line)
    return found


def test_an_error_is_one_line_with_its_traceback() -> None:
    assert "ZeroDivisionError" in _line(ZeroDivisionError())["error"]


def test_a_request_that_is_no_http_does_not_get_into_the_log() -> None:
    assert "hunter2" not in str(_line(BadStatusLine("GET /hook/kannel?key=hunter2 HTTP/9")))
