"""The service's own log: one JSON object a line, with no text of a crew and no secret in it."""

import io
import json
import logging
import sys

import pytest
from aiohttp.http_exceptions import BadStatusLine

from bot.web.jsonlog import JsonLines, logged_as_json


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


def test_what_was_logged_to_before_is_logged_to_again(monkeypatch: pytest.MonkeyPatch) -> None:
    # A handler that stays would write to a stream that whoever made it has closed.
    root = logging.getLogger()
    before, level = root.handlers[:], root.level
    monkeypatch.setattr("sys.stderr", stream := io.StringIO())
    with pytest.raises(ZeroDivisionError), logged_as_json("debug"):
        logging.getLogger("x").debug("inside")
        raise ZeroDivisionError
    stream.close()
    logging.getLogger("x").error("outside")
    assert (root.handlers, root.level) == (before, level)


def test_lines_go_to_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    with logged_as_json("info"):
        logging.getLogger("x").info("a %s", "text")
        logging.getLogger("x").debug("not told")
    assert (
        json.loads(capsys.readouterr().err).items()
        >= {"level": "info", "from": "x", "what": "a text"}.items()
    )
