"""The SQLite file: the log of turns, and where each conversation stands.

Everything here runs inside `Store.transaction()`, on one thread at a time. A turn, the states it
changed and the texts it sends are one transaction: all of it is on the disk, or none of it.
"""

import hashlib
import json
import logging
import secrets
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic_core import to_json
from sqlite_utils import Database

from bot.message import Message, Person, Site, Thread, Turn
from bot.storage.migrations import steps

log = logging.getLogger("trenchword.log")
SPOKEN = ("message_id", "sender", "name", "text", "reading", "outcome", "reply", "manner", "alerts")
COVERED = (
    "exchange", "channel", "role", "site", "rulebook", "trench", "purpose", "kind",
    "sent_at", "received_at", "answered_at", "error", "stamp", "took_us", "body", "previous",
)  # fmt: skip
START = "0" * 64  # stands where the first turn looks for the hash before it

_INSERT_COLUMNS = (*SPOKEN, *COVERED, "records", "salt", "hash", "attached")
_INSERT = (
    f"INSERT INTO turns ({', '.join(_INSERT_COLUMNS)}) "
    f"VALUES ({', '.join(':' + name for name in _INSERT_COLUMNS)})"
)
# The words of all new turns at once: turn by turn would take most of the time that writing takes.
_INDEX = """
    INSERT INTO turns_fts (rowid, text, reply) SELECT exchange, text, reply FROM turns
    WHERE exchange > (SELECT coalesce(max(id), 0) FROM turns_fts_docsize)
"""


@dataclass(frozen=True)
class Answered:
    """A turn on the log, to be given back; `reading` and `outcome` are the JSON texts as stored."""

    exchange: int
    reply: str
    reading: str
    outcome: str


class Store:
    """One database file. Opening it brings its tables up to date."""

    def __init__(self, file: Path | str, tell: Callable[[int, int], None] = lambda done, of: None) -> None:
        """Open or make `file` (":memory:" for none); `tell` hears how many steps of bringing it up to date
        are done, and of how many. Raises sqlite3.Error or OSError where that fails."""
        if file != ":memory:" and (not Path(file).exists() or not Path(file).stat().st_size):
            make_private(Path(file))
        connection = sqlite3.connect(file, check_same_thread=False, isolation_level=None, timeout=5)
        self.db = Database(connection)
        # WAL with FULL: a commit returns only after the log file is flushed to the disk.
        self.db.enable_wal()
        self.db.execute("PRAGMA synchronous = FULL")
        known = {step.name for step in steps.pending(Database(memory=True))}
        if newer := {step.name for step in steps.applied(self.db)} - known:
            self.db.close()
            raise sqlite3.DatabaseError(f"{file}: a newer version made this log, by its step {min(newer)!r}")
        waiting = [step.name for step in steps.pending(self.db)]
        for done in range(len(waiting)):
            tell(done, len(waiting))
            steps.apply(self.db, stop_before=waiting[done + 1 :])

    def close(self) -> None:
        """Bring all that is in the `-wal` into the file itself, then close it."""
        try:
            if not self.settled():
                log.warning("somebody else reads the log: its -wal stays beside it, and is a part of it")
        except sqlite3.Error as error:  # nothing is lost: the -wal holds it, and the next start reads it
            log.error("the -wal of the log stays beside it: %s: %s", type(error).__name__, error)
        self.db.close()

    def settled(self) -> bool:
        """Bring all that is in the `-wal` into the file and empty it; False where somebody who reads keeps
        it from that. Raises sqlite3.Error."""
        busy, _, _ = self.db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        return not busy

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All or nothing. The lock to write is taken at once, so that what is read here stays true."""
        self.db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self.db.execute(_INDEX)
            self.db.execute("COMMIT")
        except BaseException:
            self.db.rollback()
            raise

    @contextmanager
    def apart(self) -> Iterator[None]:
        """Within a transaction, all or nothing of a part. By the same words each time, read once."""
        self.db.execute("SAVEPOINT apart")
        try:
            yield
        except BaseException:
            if self.db.conn.in_transaction:  # else the whole transaction is gone, savepoint and all
                self.db.execute("ROLLBACK TO apart")
                self.db.execute("RELEASE apart")
            raise
        self.db.execute("RELEASE apart")

    def answered(self, message: Message) -> Answered | None:
        """The stored answer to a message that came before, else None."""
        row = self.db.execute(
            "SELECT exchange, reply, reading, outcome FROM turns"
            " WHERE channel = ? AND sender = ? AND message_id = ?",
            (message.channel, message.sender, message.id),
        ).fetchone()
        return Answered(*row) if row else None

    def said(self, message: Message) -> str | None:
        """The text that came before under this message's id, else None."""
        row = self.db.execute(
            "SELECT text FROM turns WHERE channel = ? AND sender = ? AND message_id = ?",
            (message.channel, message.sender, message.id),
        ).fetchone()
        return row[0] if row else None

    def next_exchange(self) -> int:
        """The number that the next turn will have."""
        (last,) = self.db.execute("SELECT max(exchange) FROM turns").fetchone()
        return int(last or 0) + 1

    def thread(self, sender: str) -> Thread | None:
        """Where this sender's conversation stands."""
        row = self.db.execute("SELECT state FROM threads WHERE sender = ?", (sender,)).fetchone()
        return Thread.model_validate_json(row[0]) if row else None

    def alerts(self, exchange: int) -> str:
        """The alerts of a turn, a JSON list."""
        row = self.db.execute("SELECT alerts FROM turns WHERE exchange = ?", (exchange,)).fetchone()
        return str(row[0])

    def last_channel(self, sender: str) -> str | None:
        """The channel that somebody last texted on."""
        row = self.db.execute(
            "SELECT channel FROM turns WHERE sender = ? ORDER BY exchange DESC LIMIT 1", (sender,)
        ).fetchone()
        return row[0] if row else None

    def language(self, sender: str) -> str:
        """The language in which somebody last texted, "en" where they never did."""
        row = self.db.execute(
            "SELECT json_extract(manner, '$.language') FROM turns WHERE sender = ?"
            " ORDER BY exchange DESC LIMIT 1",
            (sender,),
        ).fetchone()
        return (row and row[0]) or "en"

    def latest_sent(self) -> datetime | None:
        """When the latest message of the crew was sent: where a clock of the messages' own goes on from."""
        latest = self.db.execute("SELECT max(sent_at) FROM turns WHERE role <> ''").fetchone()[0]
        return datetime.fromisoformat(latest) if latest else None

    def put(
        self,
        turn: Turn,
        person: Person | None,
        site: Site | None,
        answered_at: datetime,
        took_us: int,
        records: str = "[]",
    ) -> Answered:
        """Write a turn to the log, and where its sender's conversation stands. `records` are the digests of
        the trench records that it changed (see `sealed`).

        `took_us` is how long the answer was worked on, in microseconds, without waiting for its turn.
        """
        # All that could fail for the turn's own sake comes before the first statement.
        row = _row(turn, person, site, answered_at) | {"took_us": took_us, "records": records}
        thread = turn.thread and turn.thread.model_dump_json()
        last = self.db.execute("SELECT exchange, hash FROM turns ORDER BY exchange DESC LIMIT 1").fetchone()
        row["exchange"], row["previous"] = (last[0] + 1, last[1]) if last else (1, START)
        row["salt"] = secrets.token_hex(16)
        row["body"] = body_of(row)
        row["hash"] = hash_of(row)
        self.db.execute(_INSERT, row)
        if thread:
            self.db.execute(
                "INSERT OR REPLACE INTO threads (sender, state, exchange) VALUES (?, ?, ?)",
                (turn.message.sender, thread, row["exchange"]),
            )
        return Answered(row["exchange"], row["reply"], row["reading"], row["outcome"])


def make_private(file: Path) -> None:
    """An empty file that only its owner reads: the log holds names, numbers and what they said."""
    file.touch(mode=0o600)
    file.chmod(0o600)


def moment(at: datetime) -> str:
    """A time as the log writes it: UTC, always the same width, so that text order is time order."""
    return at.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def body_of(row: Mapping[str, Any]) -> str:
    """The salted digest of everything that was said: it can stay when the words are erased."""
    more = ["attached"] if row.get("attached") else []  # older turns have no such mark, and keep their digest
    return digest([row["salt"], *(row[name] for name in SPOKEN), *more])


def hash_of(row: Mapping[str, Any]) -> str:
    """The digest that chains a turn to the one before it."""
    covered = [row[name] for name in COVERED]
    records = row.get("records")  # a turn from before there were any is covered without
    return digest(covered if records is None else [*covered, records])


def digest(values: list[Any]) -> str:
    """The SHA-256 of values in their order."""
    return hashlib.sha256(b"[" + b", ".join(map(_written, values)) + b"]").hexdigest()


def _written(value: Any) -> bytes:
    """A value as `json.dumps` writes it; a long text, which is most of a turn, in a fifth of its time."""
    return to_json(value) if isinstance(value, str) else json.dumps(value, ensure_ascii=False).encode()


def _row(turn: Turn, person: Person | None, site: Site | None, answered_at: datetime) -> dict[str, Any]:
    message = turn.message
    return {
        "channel": message.channel,
        "message_id": message.id,
        "sender": message.sender,
        "name": person.name if person else "",
        "role": person.role if person else "",
        "site": site.name if site else "",
        "rulebook": site.rulebook if site else "",
        "trench": turn.trench,
        "sent_at": moment(message.sent_at),
        "received_at": moment(message.received_at),
        "answered_at": moment(answered_at),
        "text": message.text,
        "attached": int(message.attached),
        "purpose": turn.reading.purpose,
        "reading": _json(turn.reading.public()),
        "kind": turn.outcome.kind,
        "outcome": turn.outcome.model_dump_json(),
        "reply": turn.reply.text,
        "manner": turn.manner.model_dump_json(),
        "alerts": _json([alert.model_dump() for alert in turn.alerts]),
        "error": turn.error,
        "stamp": turn.stamp,
    }


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
