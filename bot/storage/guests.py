"""Numbers that asked to join a site by text, and those whom a supervisor let join until the end of a shift.

Every method runs inside `Store.transaction()`.
"""

from datetime import datetime

from sqlite_utils import Database

from bot.message import Guest
from bot.storage.turns import moment

_COLUMNS = "number, name, site, asked, until, by"


class Guests:
    """The guests of one database; each number is one guest at most."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def all(self, now: datetime) -> tuple[Guest, ...]:
        """Those who may text at `now`, and those whose question nobody has answered yet."""
        rows = self._db.execute(f"SELECT {_COLUMNS} FROM guests ORDER BY number").fetchall()
        found = (_guest(row) for row in rows)
        return tuple(guest for guest in found if guest.until is None or now < guest.until)

    def put(self, guest: Guest) -> None:
        """Keep what is asked, or what was allowed."""
        until = moment(guest.until) if guest.until else None
        self._db.execute(
            f"INSERT OR REPLACE INTO guests ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)",
            (guest.number, guest.name, guest.site, moment(guest.asked), until, guest.by),
        )

    def erase(self, number: str) -> None:
        """Forget that this number asked, and that it may text."""
        self._db.execute("DELETE FROM guests WHERE number = ?", (number,))

    def erase_before(self, day: str) -> None:
        """Forget who asked before `day` and may text no longer by then, or was never answered."""
        self._db.execute("DELETE FROM guests WHERE asked < ? AND coalesce(until, '') < ?", (day, day))


def _guest(row: tuple[str, str, str, str, str | None, str]) -> Guest:
    number, name, site, asked, until, by = row
    return Guest(
        number=number,
        name=name,
        site=site,
        asked=datetime.fromisoformat(asked),
        until=datetime.fromisoformat(until) if until else None,
        by=by,
    )
