"""The sketches that were asked for, each as it was drawn with its answer.

Every method runs inside `Store.transaction()`.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from bot.drawing.links import Links
from bot.storage.turns import moment

KEPT_FOR = timedelta(days=31)
"""Longer than any link is good for and any text waits."""


@dataclass(frozen=True)
class Sketch:
    """A sketch as it was drawn. `stale` says that more was told about the trench since."""

    trench: str
    svg: str
    stale: bool


class Sketches:
    """The sketches of one database. Without `links` none can be seen from outside."""

    def __init__(self, db: Database, links: Links | None = None) -> None:
        self._db = db
        self.links = links

    def put(self, exchange: int, svg: str, now: datetime) -> None:
        """Keep one, and let go of the old ones."""
        self._db.execute("DELETE FROM sketches WHERE made_at < ?", (moment(now - KEPT_FOR),))
        self._db.execute("INSERT INTO sketches VALUES (?, ?, ?)", (exchange, svg, moment(now)))

    def find(self, exchange: int) -> Sketch | None:
        """The sketch of an exchange, None where it is not kept any more."""
        row = self._db.execute(
            "SELECT turns.trench, svg, trenches.exchange IS NULL OR trenches.exchange > turns.exchange"
            " FROM sketches JOIN turns USING (exchange) LEFT JOIN trenches"
            " ON trenches.site = turns.site AND trenches.ref = turns.trench WHERE sketches.exchange = ?",
            (exchange,),
        ).fetchone()
        return Sketch(row[0], row[1], bool(row[2])) if row else None
