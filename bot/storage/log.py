"""Reading the log: pages of exchanges, one exchange whole, and the proof that nobody changed it."""

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from bot.storage import sealed
from bot.storage.turns import SPOKEN, START, body_of, hash_of

TELL_EVERY = 1000  # turns
FEW = 100_000  # turns that are gathered in a tenth of a second
JSON_COLUMNS = ("reading", "outcome", "manner", "alerts")
LISTED = ("exchange", "sent_at", "name", "sender", "site", "trench", "kind", "text", "reply")
"""What a list shows of an exchange, and whether it is of a hazard. What was worked stays where it is."""


@dataclass(frozen=True)
class LogFilter:
    """Which exchanges to show; None leaves a field open. Dates are UTC texts, `until` not included."""

    text: str | None = None
    trench: str | None = None
    sender: str | None = None
    site: str | None = None
    kind: str | None = None
    rulebook: str | None = None
    since: str | None = None
    until: str | None = None
    about: str | None = None  # one of ABOUT: what people look for


@dataclass(frozen=True)
class ChainCheck:
    """What checking the chain found: how many turns, the last hash, the first break if any."""

    turns: int
    head: str
    erased: int = 0
    broken_at: int | None = None
    why: str = ""


# What people look for, and how it stands on the log. The JSON ones have indexes of these very words.
ABOUT = {
    "hazard": "(reading ->> '$.hazards' IS NOT NULL OR coalesce(outcome ->> '$.hazards', '[]') <> '[]'"
    " OR reading ->> '$.possible_hazard' IS NOT NULL)",
    "stop": "(purpose = 'stop' OR (kind = 'unclear' AND outcome ->> '$.why' = 'stopped'))",
    "refused": "kind = 'stop'",
    "let in": "(reading ->> '$.code' IS NOT NULL AND outcome ->> '$.allowed_by' IS NOT NULL)",
    "inspection": "(reading ->> '$.verdict' IS NOT NULL OR reading ->> '$.done' LIKE '%\"inspection\"%')",
    "not understood": "kind = 'unclear'",
    "no answer": "kind = 'failed'",
}
HIT, HIT_END = "\ue000", "\ue001"  # stand around the words that were looked for
_HITS = (
    "highlight(turns_fts, 0, char(0xe000), char(0xe001)) AS text_hits,"
    " snippet(turns_fts, 1, char(0xe000), char(0xe001), '…', 40) AS reply_hits"
)
_WORDS = "turns_fts MATCH :text"
_DATES = {"since": "sent_at >= :since", "until": "sent_at < :until"}


def open_to_read(file: Path) -> Database:
    """The database for reading only, beside a running service. Raises sqlite3.OperationalError."""
    uri = f"{file.absolute().as_uri()}?mode=ro"
    return Database(sqlite3.connect(uri, uri=True, check_same_thread=False))  # closed by another thread


def page(
    db: Database,
    wanted: LogFilter,
    before: int | None = None,
    most: int = 50,
    columns: Sequence[str] = ("*",),
    hits: bool = False,
) -> list[dict[str, Any]]:
    """The newest exchanges that fit, newest first; `before` is the last exchange of the page before.

    With `hits`, where words are looked for, `text_hits` and `reply_hits` have them between HIT and HIT_END.

    Every page is found along an index, and never by counting from the start. Newest is the latest to come;
    within dates it is the latest sent.
    """
    given, where, tables, newest = _found(db, wanted, before)
    shown = ", ".join(f"turns.{name}" for name in columns)
    if columns == LISTED:
        shown += f", {ABOUT['hazard']} AS hazard"
    if hits and "text" in given:
        shown += f", {_HITS}"
    sql = f"SELECT {shown} FROM {tables}{where} ORDER BY {newest} LIMIT :most"
    return list(db.query(sql, {**given, "before": before, "most": most}))


def count(db: Database, wanted: LogFilter, most: int) -> int:
    """How many exchanges fit; of more than `most`, `most` + 1."""
    given, where, tables, _ = _found(db, wanted, None)
    sql = f"SELECT count(*) FROM (SELECT 1 FROM {tables}{where} LIMIT :most)"
    return int(db.execute(sql, {**given, "before": None, "most": most + 1}).fetchone()[0])


def about(db: Database, wanted: LogFilter, most: int) -> dict[str, int]:
    """How many of the newest `most` exchanges that fit, whatever they are about, are about each of ABOUT.

    Older ones are not looked at: where few of a great many are about something, all would have to be read.
    """
    given, where, tables, newest = _found(db, replace(wanted, about=None), None)
    each = ", ".join(f"total({condition})" for condition in ABOUT.values())
    looked_at = "turns.kind, turns.purpose, turns.reading, turns.outcome"
    latest = f"SELECT {looked_at} FROM {tables}{where} ORDER BY {newest} LIMIT :most"
    counts = db.execute(f"SELECT {each} FROM ({latest})", {**given, "before": None, "most": most}).fetchone()
    return dict(zip(ABOUT, map(int, counts), strict=True))


def _found(db: Database, wanted: LogFilter, before: int | None) -> tuple[dict[str, str], str, str, str]:
    """The values, the conditions, the tables and the order of what is looked for."""
    given = {f.name: value for f in fields(wanted) if (value := getattr(wanted, f.name)) is not None}
    conditions = _conditions(given)
    if "text" in given:
        given["text"] = _phrases(given["text"])
        conditions = [_WORDS, *(_beside_words(db, each, given) for each in conditions)]
    tables, newest, older = _way(given)
    if before is not None:
        conditions.append(older)
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    return given, where, tables, newest


def _conditions(given: Mapping[str, str]) -> list[str]:
    """One for each field but the words; the two dates are one."""
    dates = [condition for name, condition in _DATES.items() if name in given]
    plain = [f"{name} = :{name}" for name in given if name not in ("text", "about") and name not in _DATES]
    plain += [ABOUT.get(given["about"], "0")] if "about" in given else []
    return [*plain, " AND ".join(dates)] if dates else plain


def _beside_words(db: Database, condition: str, given: dict[str, str]) -> str:
    """A condition for turns that are found by their words.

    Where few turns fit it they are gathered first, by an index: to read every turn that has a frequent word,
    and see whether it fits, takes seconds in a long log.
    """
    fit = f"FROM turns WHERE {condition}"
    if db.execute(f"SELECT 1 {fit} LIMIT 1 OFFSET {FEW}", given).fetchone():
        return condition
    first, last = f"(SELECT coalesce(min(exchange), 1) {fit})", f"(SELECT coalesce(max(exchange), 0) {fit})"
    span = f"turns_fts.rowid BETWEEN {first} AND {last}"
    return f"{span} AND +turns_fts.rowid IN (SELECT exchange {fit})"


def _way(given: Mapping[str, str]) -> tuple[str, str, str]:
    """Which tables to go through, in which order, and what is older than `:before`."""
    if "text" in given:
        tables = "turns_fts CROSS JOIN turns ON exchange = turns_fts.rowid"
        return tables, "turns_fts.rowid DESC", "turns_fts.rowid < :before"
    if not _DATES.keys().isdisjoint(given):
        last = "(SELECT sent_at, exchange FROM turns WHERE exchange = :before)"
        return "turns", "sent_at DESC, exchange DESC", f"(sent_at, exchange) < {last}"
    return "turns", "exchange DESC", "exchange < :before"


def _phrases(text: str) -> str:
    """What was typed as a full-text query: every word must be in the turn, in one of its forms; one that ends
    in "*" must begin a word there. No other sign has a meaning."""
    words = (word for word in text.replace("\0", " ").split() if any(sign.isalnum() for sign in word))
    return " ".join(_quoted(word.rstrip("*")) + "*" * word.endswith("*") for word in words) or '""'


def _quoted(word: str) -> str:
    return '"' + word.replace('"', '""') + '"'


def exchange(db: Database, number: int) -> dict[str, Any] | None:
    """One exchange as it stands on the log."""
    return next(db.query("SELECT * FROM turns WHERE exchange = ?", [number]), None)


def is_about(db: Database, number: int, about: str) -> bool:
    """Whether an exchange is one of those that ABOUT finds."""
    row = db.execute(f"SELECT {ABOUT[about]} FROM turns WHERE exchange = ?", [number]).fetchone()
    return bool(row and row[0])


def verify(db: Database, tell: Callable[[int, int], None] = lambda done, of: None) -> ChainCheck:
    """Work every hash again, from the first turn on, and name the first that does not fit. Now and then
    `tell` hears how many turns are done, and of how many."""
    previous, turns, erased = START, 0, 0
    try:
        (of,) = db.execute("SELECT coalesce(max(exchange), 0) FROM turns").fetchone()
        for row in _in_order(db):
            if turns % TELL_EVERY == 0:
                tell(turns, of)
            if why := _break(row, turns + 1, previous):
                return ChainCheck(turns, previous, erased, row["exchange"], why)
            previous, turns, erased = row["hash"], turns + 1, erased + (row["salt"] is None)
    except (sqlite3.DatabaseError, ValueError, TypeError) as error:  # what stands there is no text any more
        return ChainCheck(turns, previous, erased, turns + 1, f"it cannot be read: {error}")
    try:
        if record := sealed.broken(db):
            return ChainCheck(turns, previous, erased, *record)
    except (sqlite3.DatabaseError, ValueError, TypeError, KeyError, AttributeError) as error:
        return ChainCheck(turns, previous, erased, turns, f"a trench record cannot be read: {error}")
    return ChainCheck(turns, previous, erased)


def _in_order(db: Database) -> Iterator[dict[str, Any]]:
    return db.query("SELECT * FROM turns ORDER BY exchange")


def _break(row: dict[str, Any], number: int, previous: str) -> str:
    if row["exchange"] != number:
        return f"exchange {number} is gone"
    if row["previous"] != previous:
        return "it does not follow the turn before it"
    if row["salt"] is None:
        if any(row[name] is not None for name in SPOKEN):
            return "words stand where words were erased"
    elif row["body"] != body_of(row):
        return "what was said was changed"
    if row["hash"] != hash_of(row):
        return "when, where or how it was answered was changed"
    return ""
