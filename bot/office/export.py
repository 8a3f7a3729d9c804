"""Lists to take away: CSV that no spreadsheet takes for a formula, JSON lines, and the database itself."""

import csv
import io
import json
import re
import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from bot.storage import log

COLUMNS = (
    "exchange", "sent_at", "site", "trench", "name", "sender", "role", "rulebook", "kind", "purpose", "text",
    "reply", "answered_at", "took_us", "stamp", "channel", "message_id", "hash",
)  # fmt: skip
MASK = "••••"
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


_CONTROLS = ("\t", "\r", "\n", "\0")
MOST_UNSEEN = 100


def csv_head() -> str:
    """The first line."""
    return _line(COLUMNS)


def csv_lines(rows: Iterable[Mapping[str, Any]]) -> str:
    """Exchanges as lines of CSV (RFC 4180)."""
    return "".join(_line([harmless(row[name]) for name in COLUMNS]) for row in rows)


def without_code(row: Mapping[str, Any]) -> dict[str, Any]:
    """An exchange without the code that let people in: it stands in the texts themselves and nowhere else."""
    shown = dict(row)
    if alerts := json.loads(row.get("alerts") or "[]"):
        kept = [each | {"text": masked(each["text"], each["why"])} for each in alerts]
        shown["alerts"] = json.dumps(kept, ensure_ascii=False, separators=(",", ":"))
    reading = json.loads(row.get("reading") or "{}")
    if reading.get("code"):
        shown["reading"] = json.dumps(reading | {"code": MASK}, ensure_ascii=False, separators=(",", ":"))
    return shown


def masked(text: str, why: str) -> str:
    """A text of the service without its code, where it carries one."""
    return re.sub(r"\d{4,}", MASK, text) if why == "code" else text


def json_lines(rows: Iterable[Mapping[str, Any]]) -> str:
    """Exchanges as JSON, one a line, to the letter."""
    return "".join(json.dumps(_parsed(without_code(row)), ensure_ascii=False) + "\n" for row in rows)


def harmless(value: Any) -> str:
    """A cell that opens as text: an apostrophe before what could be a formula (OWASP, CSV Injection)."""
    text = "" if value is None else str(value)
    # Signs that nobody sees may stand before it: spreadsheets pass over some of them.
    seen = text.lstrip(
        "".join(sign for sign in set(text[:MOST_UNSEEN]) if not sign.isprintable() or sign == " ")
    )
    return f"'{text}" if seen.startswith(_FORMULA) or text[:1] in _CONTROLS else text


def copied(source: Path, target: Path) -> None:
    """The database as it stands now, without the office's users and sessions."""
    with closing(log.open_to_read(source)) as reading, closing(sqlite3.connect(target)) as writing:
        reading.conn.backup(writing)
        writing.executescript(
            "PRAGMA secure_delete = ON; DELETE FROM office_sessions; DELETE FROM office_users;"
            " PRAGMA journal_mode = DELETE;"
        )


def _line(cells: Iterable[str]) -> str:
    line = io.StringIO()
    csv.writer(line).writerow(cells)
    return line.getvalue()


def _parsed(row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: json.loads(value) if name in log.JSON_COLUMNS and value is not None else value
        for name, value in row.items()
    }
