"""What could not be taken: texts whose senders were told to ring, and calls that nobody vouches for.

A full disk is one reason why a text is refused, so each waits in memory until it can be written. One that
comes again is counted, so that a flood makes one row.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlite_utils import Database

from bot.storage.turns import moment

MOST = 200
KEPT_FOR = timedelta(days=7)  # a long weekend, and the days after it
MOST_WHY = 200  # characters

RefusedKey = tuple[str, str, str]


@dataclass(frozen=True)
class RefusedText:
    """What was refused on a channel, for one reason; without `sender` nobody can be told to ring."""

    channel: str
    sender: str
    why: str
    at: datetime  # of the last time
    times: int = 1

    @property
    def name(self) -> RefusedKey:
        return self.channel, self.sender, self.why


class Refusals:
    """The refusals that are not written yet, by channel, sender and reason."""

    def __init__(self) -> None:
        self._unwritten: dict[RefusedKey, RefusedText] = {}

    def add(self, one: RefusedText) -> None:
        """Count one more; of too many the oldest is forgotten."""
        one = replace(one, why=one.why[:MOST_WHY])
        before = self._unwritten.pop(one.name, None)
        self._unwritten[one.name] = replace(one, times=one.times + before.times) if before else one
        if len(self._unwritten) > MOST:
            del self._unwritten[next(iter(self._unwritten))]

    def unwritten(self) -> tuple[RefusedText, ...]:
        """Those that wait to be written, the latest last."""
        return tuple(self._unwritten.values())

    def written(self, ones: Collection[RefusedText]) -> None:
        """Forget what is on the disk now; what was added to it meanwhile waits on."""
        for one in ones:
            now = self._unwritten.get(one.name)
            if now and now.times > one.times:
                self._unwritten[one.name] = replace(now, times=now.times - one.times)
            else:
                self._unwritten.pop(one.name, None)


def write(db: Database, ones: Iterable[RefusedText], now: datetime) -> None:
    """Add to the table, and take out of it what is old or too much. Inside `Store.transaction()`."""
    for one in ones:
        db.execute(
            "INSERT INTO refused (channel, sender, why, at, times) VALUES (?, ?, ?, ?, ?)"
            " ON CONFLICT DO UPDATE SET at = excluded.at, times = times + excluded.times",
            (*one.name, moment(one.at), one.times),
        )
    db.execute("DELETE FROM refused WHERE at < ?", (moment(now - KEPT_FOR),))
    db.execute(
        "DELETE FROM refused WHERE rowid NOT IN (SELECT rowid FROM refused ORDER BY at DESC LIMIT ?)", (MOST,)
    )


def latest(db: Database, unwritten: Iterable[RefusedText]) -> list[RefusedText]:
    """All there are, the latest first."""
    rows = db.execute("SELECT channel, sender, why, at, times FROM refused ORDER BY at")
    every = Refusals()
    for channel, sender, why, at, times in rows.fetchall():
        every.add(RefusedText(channel, sender, why, datetime.fromisoformat(at), times))
    for one in unwritten:
        every.add(one)
    return list(reversed(every.unwritten()))


def forget(db: Database, sender: str) -> None:
    """Somebody was rung, or is to be erased."""
    db.execute("DELETE FROM refused WHERE sender = ?", (sender,))
