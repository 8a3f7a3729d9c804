"""What the office changed: each text of a file that was saved, one row a change, never altered.

The rows are a chain like that of the log, and each also covers the log's last hash of its time. Everything
here runs inside `Store.transaction()`, or reads.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from bot.storage.chained import Chained
from bot.storage.log import ChainCheck
from bot.storage.turns import digest, moment

CHANGES = Chained("changes", "change", ("why", "text"), ("at", "user", "file", "shipped"), "change")
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
        CHANGES.add(
            db, {"at": moment(now), "user": "", "file": file, "shipped": came, "why": "", "text": shipped}
        )
    return CHANGES.add(
        db, {"at": moment(now), "user": user, "file": file, "shipped": came, "why": why, "text": text}
    )


def verify(db: Database) -> ChainCheck:
    """Work every hash again, and name the first change that does not fit."""
    return CHANGES.verify(db)


def erase(db: Database, condition: str, value: str) -> None:
    """Erase texts that hold people and fit, but never the one in force: without it nobody could text."""
    db.execute(
        "UPDATE changes SET text = NULL, why = NULL, salt = NULL WHERE file = 'people.toml'"
        f" AND change < (SELECT max(change) FROM changes WHERE file = 'people.toml') AND {condition}",
        (value,),
    )
