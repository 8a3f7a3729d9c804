"""What somebody in the office has seen to, by name and time. It changes nothing on the record of a trench."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from hashlib import blake2s

from sqlite_utils import Database

from bot.storage.turns import moment

MOST_NOTE = 80  # characters


@dataclass(frozen=True)
class Acknowledged:
    """Who of the office has seen to something, when, and what they say they did."""

    user: str
    at: datetime
    note: str


def name_of_alarm(key: str) -> str:
    """What an alarm is called here, by its key in the outbox."""
    return f"alarm:{key}"


def name_of_words(event: str) -> str:
    """What somebody's words are called here. The name of an event holds a number, its digest does not."""
    return f"words:{blake2s(event.encode(), digest_size=12).hexdigest()}"


def put(db: Database, what: Iterable[str], user: str, note: str, at: datetime) -> None:
    """Note that `user` has seen to these; what was seen to already stays as it is. Inside a transaction."""
    for each in what:
        db.execute(
            "INSERT OR IGNORE INTO acknowledged (what, user, at, note) VALUES (?, ?, ?, ?)",
            (each, user, moment(at), note[:MOST_NOTE]),
        )


def find(db: Database, what: Iterable[str]) -> dict[str, Acknowledged]:
    """Those of `what` that were seen to."""
    found = {}
    for each in dict.fromkeys(what):
        row = db.execute("SELECT user, at, note FROM acknowledged WHERE what = ?", (each,)).fetchone()
        if row:
            found[each] = Acknowledged(row[0], datetime.fromisoformat(row[1]), row[2])
    return found


def erase(db: Database, number: str) -> None:
    """Take away what was noted about the alarms to a number: it may name its owner."""
    db.execute(
        "UPDATE acknowledged SET note = '' WHERE what IN"
        " (SELECT 'alarm:' || key FROM outbox WHERE recipient = ?)",
        (number,),
    )


def erase_before(db: Database, day: str) -> None:
    """Forget what was seen to before a day."""
    db.execute("DELETE FROM acknowledged WHERE at < ?", (day,))
