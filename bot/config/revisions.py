"""What the office changed: each text of a file that was saved, one row a change, never altered.

The rows are a chain like that of the log, and each also covers the log's last hash of its time. Everything
here runs inside `Store.transaction()`, or reads.
"""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from bot.storage.log import ChainCheck
from bot.storage.turns import START, digest, moment

SAID = ("why", "text")
COVERED = ("change", "at", "user", "file", "shipped", "body", "after", "previous")
SHOWN = "change, at, user, file, shipped, why, text"


@dataclass(frozen=True)
class Revision:
    """One change. `text` is the whole file from then on, empty where there is none any more.

    `user` is nobody for a file as it came, which is noted before its first change. `shipped` is the digest
    of the file as it came with the program at that time. `why` and `text` are None where they were erased.
    """

    number: int
    at: str
    user: str
    file: str
    shipped: str
    why: str | None
    text: str | None


def digest_of(text: str) -> str:
    """The digest by which a file as it came is known again."""
    return digest([text])


def latest(db: Database) -> dict[str, Revision]:
    """The last change of every file that was changed."""
    sql = f"SELECT {SHOWN} FROM changes WHERE change IN (SELECT max(change) FROM changes GROUP BY file)"
    return {change.file: change for change in (Revision(*row) for row in db.execute(sql))}


def page(db: Database, before: int | None = None, most: int = 50) -> list[Revision]:
    """The newest changes, newest first, their texts left out; `before` is the last one of the page before."""
    sql = (
        "SELECT change, at, user, file, shipped, why, NULL FROM changes WHERE change < ?"
        " ORDER BY change DESC LIMIT ?"
    )
    return [Revision(*row) for row in db.execute(sql, (before if before is not None else 1 << 62, most))]


def find(db: Database, number: int) -> Revision | None:
    """One change whole."""
    row = db.execute(f"SELECT {SHOWN} FROM changes WHERE change = ?", (number,)).fetchone()
    return Revision(*row) if row else None


def one_before(db: Database, change: Revision) -> Revision | None:
    """The change of the same file before this one."""
    sql = f"SELECT {SHOWN} FROM changes WHERE file = ? AND change < ? ORDER BY change DESC LIMIT 1"
    row = db.execute(sql, (change.file, change.number)).fetchone()
    return Revision(*row) if row else None


def head(db: Database) -> int:
    """The number of the last change, 0 where there is none."""
    return int(db.execute("SELECT coalesce(max(change), 0) FROM changes").fetchone()[0])


def put(db: Database, file: str, text: str, shipped: str, why: str, user: str, now: datetime) -> int:
    """Keep a text of a file; `shipped` is the file as it came, "" for a new one. Returns the number."""
    came = digest_of(shipped)
    if not db.execute("SELECT 1 FROM changes WHERE file = ?", (file,)).fetchone():
        _add(db, {"at": moment(now), "user": "", "file": file, "shipped": came, "why": "", "text": shipped})
    return _add(
        db, {"at": moment(now), "user": user, "file": file, "shipped": came, "why": why, "text": text}
    )


def _add(db: Database, row: dict[str, Any]) -> int:
    last = db.execute("SELECT change, hash FROM changes ORDER BY change DESC LIMIT 1").fetchone()
    row["change"], row["previous"] = (last[0] + 1, last[1]) if last else (1, START)
    turn = db.execute("SELECT hash FROM turns ORDER BY exchange DESC LIMIT 1").fetchone()
    row["after"] = turn[0] if turn else START
    row["salt"] = secrets.token_hex(16)
    row["body"], row["hash"] = _body(row), ""
    row["hash"] = _hash(row)
    names = ", ".join(row)
    db.execute(f"INSERT INTO changes ({names}) VALUES ({', '.join(':' + name for name in row)})", row)
    return int(row["change"])


def verify(db: Database) -> ChainCheck:
    """Work every hash again, and name the first change that does not fit."""
    previous, count, erased = START, 0, 0
    if "changes" not in db.table_names():  # a copy of a database from before there were changes
        return ChainCheck(0, START)
    for row in db.query("SELECT * FROM changes ORDER BY change"):
        if why := _break(row, count + 1, previous):
            return ChainCheck(count, previous, erased, row["change"], why)
        previous, count, erased = row["hash"], count + 1, erased + (row["salt"] is None)
    return ChainCheck(count, previous, erased)


def erase(db: Database, condition: str, value: str) -> None:
    """Erase texts that hold people and fit, but never the one in force: without it nobody could text."""
    db.execute(
        "UPDATE changes SET text = NULL, why = NULL, salt = NULL WHERE file = 'people.toml'"
        f" AND change < (SELECT max(change) FROM changes WHERE file = 'people.toml') AND {condition}",
        (value,),
    )


def _break(row: Mapping[str, Any], number: int, previous: str) -> str:
    if row["change"] != number:
        return f"change {number} is gone"
    if row["previous"] != previous:
        return "it does not follow the change before it"
    if row["salt"] is None:
        if any(row[name] is not None for name in SAID):
            return "a text stands where it was erased"
    elif row["body"] != _body(row):
        return "what was saved was changed"
    if row["hash"] != _hash(row):
        return "when, by whom or in which file was changed"
    return ""


def _body(row: Mapping[str, Any]) -> str:
    return digest([row["salt"], *(row[name] for name in SAID)])


def _hash(row: Mapping[str, Any]) -> str:
    return digest([row[name] for name in COVERED])
