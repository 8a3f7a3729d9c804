"""Pictures that came with a text: those to be fetched, and what became of each, kept or not.

They stand in the file of the log, so that a copy of it has them and one erasure reaches them. One is fetched
after its text was answered, so that text's hash cannot cover it: what became of each is a chain of its own.
Every method runs inside `Store.transaction()`, or reads.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from bot.channels.base import Picture
from bot.drawing.photograph import Photograph
from bot.message import Message
from bot.storage.chained import Chained
from bot.storage.log import ChainCheck
from bot.storage.turns import moment

WAITS_S = (10, 60, 600, 3600)  # after each try that failed; after the last it is not kept
MOST_A_DAY = 100  # of one sender: a phone must not fill the disk
MOST_SHOWN = 60  # of one trench, the newest
_SHOWN = "picture, exchange, number, why, wide, high, coalesce((length(jpeg) + 999) / 1000, 0)"
PICTURES = Chained(
    "pictures", "picture", ("sender", "jpeg"), ("exchange", "number", "at", "why", "wide", "high"), "picture"
)


@dataclass(frozen=True)
class PictureDue:
    """A picture to fetch: `place` is where the provider of `channel` keeps it, `number` which of its text."""

    id: int
    exchange: int
    number: int
    channel: str
    place: str
    tries: int


@dataclass(frozen=True)
class KeptPicture:
    """What became of a picture. `why` is empty where it was kept; `kilobytes` is 0 where it is there no
    more, and `picture` None where it was not fetched yet."""

    picture: int | None
    exchange: int
    number: int
    why: str = ""
    wide: int | None = None
    high: int | None = None
    kilobytes: int = 0
    waits: bool = False
    sent_at: str = ""
    name: str = ""

    @property
    def told(self) -> str:
        """What there is to say of it where it cannot be shown."""
        if self.waits:
            return "not fetched yet"
        return f"not kept: {self.why}" if self.why else "erased"


class Pictures:
    """The pictures of one database. `fresh` says whether one was put down since it was last looked."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self.fresh = False

    def put(self, exchange: int, message: Message, came: Sequence[Picture], now: datetime) -> None:
        """Note the pictures of an exchange, due at once. What is plainly no picture is not asked for."""
        room = MOST_A_DAY - self._lately(message.sender, now)
        for number, each in enumerate(came, start=1):
            why = ""
            if number > room:
                why = f"more than {MOST_A_DAY} of one sender in a day"
            elif each.content_type and not each.content_type.startswith("image/"):
                why = f"it is no picture but {each.content_type[:40]}"
            if why:
                self._add(exchange, number, message.sender, now, why, None)
                continue
            self.fresh = True
            self._db.execute(
                "INSERT INTO pictures_due (exchange, number, channel, sender, place, due_at)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                (exchange, number, message.channel, message.sender, each.place, moment(now)),
            )

    def take(self, now: datetime, most: int, going: Iterable[int]) -> list[PictureDue]:
        """Those that are due, the oldest first, but for those that are `going`. One due later than any wait
        was put down before the clock was set back: it goes now."""
        self.fresh = False
        gone = set(going)
        rows = self._db.execute(
            "SELECT id, exchange, number, channel, place, tries FROM pictures_due"
            " WHERE due_at <= ? OR due_at > ? ORDER BY due_at, id LIMIT ?",
            (moment(now), moment(now + timedelta(seconds=WAITS_S[-1])), most + len(gone)),
        )
        return [due for due in (PictureDue(*row) for row in rows) if due.id not in gone][:most]

    def kept(self, due: PictureDue, made: Photograph, now: datetime) -> None:
        """Keep a picture, unless its sender was erased meanwhile."""
        self._ended(due, now, "", made)

    def not_kept(self, due: PictureDue, why: str, now: datetime) -> None:
        """Note for good why a picture is not kept."""
        self._ended(due, now, why, None)

    def not_fetched(self, due: PictureDue, why: str, now: datetime) -> None:
        """Let it wait for its next try; after the last it is not kept."""
        if due.tries >= len(WAITS_S):
            self.not_kept(due, f"{why}, {due.tries + 1} times", now)
            return
        self._db.execute(
            "UPDATE pictures_due SET tries = ?, due_at = ? WHERE id = ?",
            (due.tries + 1, moment(now + timedelta(seconds=WAITS_S[due.tries])), due.id),
        )

    def _ended(self, due: PictureDue, now: datetime, why: str, made: Photograph | None) -> None:
        row = self._db.execute("SELECT sender FROM pictures_due WHERE id = ?", (due.id,)).fetchone()
        if row:
            self._db.execute("DELETE FROM pictures_due WHERE id = ?", (due.id,))
            self._add(due.exchange, due.number, row[0], now, why, made)

    def _add(
        self, exchange: int, number: int, sender: str, now: datetime, why: str, made: Photograph | None
    ) -> None:
        PICTURES.add(
            self._db,
            {
                "exchange": exchange,
                "number": number,
                "at": moment(now),
                "why": why,
                "wide": made and made.wide,
                "high": made and made.high,
                "sender": sender,
                "jpeg": made and made.jpeg,
            },
        )

    def _lately(self, sender: str, now: datetime) -> int:
        since = moment(now - timedelta(days=1))
        (kept,) = self._db.execute(
            "SELECT (SELECT count(*) FROM pictures WHERE sender = :sender AND at > :since AND why = '')"
            " + (SELECT count(*) FROM pictures_due WHERE sender = :sender)",
            {"sender": sender, "since": since},
        ).fetchone()
        return int(kept)


def of_exchange(db: Database, exchange: int) -> list[KeptPicture]:
    """The pictures of an exchange, and what became of each, in the order in which they came."""
    if "pictures" not in db.table_names():  # a copy from before there were any
        return []
    rows = db.execute(f"SELECT {_SHOWN} FROM pictures WHERE exchange = ?", (exchange,))
    found = [KeptPicture(*row) for row in rows]
    waiting = db.execute("SELECT number FROM pictures_due WHERE exchange = ?", (exchange,))
    found += [KeptPicture(None, exchange, number, waits=True) for (number,) in waiting]
    return sorted(found, key=lambda each: each.number)


def of_trench(db: Database, site: str, ref: str) -> list[KeptPicture]:
    """The newest pictures that came with texts of a trench and can be shown, newest first."""
    rows = db.execute(
        f"SELECT {_SHOWN}, 0, sent_at, name"
        " FROM pictures JOIN turns USING (exchange)"
        " WHERE site = ? AND trench = ? AND jpeg IS NOT NULL ORDER BY exchange DESC, pictures.number LIMIT ?",
        (site, ref, MOST_SHOWN),
    )
    return [KeptPicture(*row) for row in rows]


def jpeg(db: Database, picture: int) -> bytes | None:
    """A picture's file, None where it is not there."""
    row = db.execute("SELECT jpeg FROM pictures WHERE picture = ?", (picture,)).fetchone()
    return row[0] if row else None


def verify(db: Database) -> ChainCheck:
    """Work every hash again, and name the first picture that does not fit."""
    return PICTURES.verify(db)


def erase_person(db: Database, number: str) -> None:
    """Erase the pictures of a sender; those not fetched yet never are."""
    _erase(db, "sender = ?", number)


def erase_before(db: Database, day: str) -> None:
    """Erase the pictures of exchanges sent before a day."""
    _erase(db, "exchange IN (SELECT exchange FROM turns WHERE sent_at < ?)", day)


def _erase(db: Database, condition: str, value: str) -> None:
    db.execute(f"DELETE FROM pictures_due WHERE {condition}", (value,))
    db.execute(
        f"UPDATE pictures SET sender = NULL, jpeg = NULL, salt = NULL WHERE salt IS NOT NULL AND {condition}",
        (value,),
    )
