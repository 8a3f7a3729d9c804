"""Taking words off the record; the chain of the log stays whole, since it covers digests of the words."""

import json
from datetime import datetime

from sqlite_utils import Database

from bot.config import revisions
from bot.delivery.outbox import Outbox
from bot.storage import refused
from bot.storage.arrivals import Arrivals
from bot.storage.turns import SPOKEN, moment

NOBODY = "erased"
_WORDLESS = ", ".join(f"{name} = NULL" for name in (*SPOKEN, "salt"))


def erase_person(db: Database, number: str) -> int:
    """Erase what this number said and was told. Returns how many exchanges that was.

    What was told about a trench stays told, by nobody. What others said, and whom it set off an alert to,
    stays theirs, until it is old enough to be erased. Who is still among the people in force stays there:
    take them out in the office first.
    """
    db.execute(
        "DELETE FROM sketches WHERE exchange IN (SELECT exchange FROM turns WHERE sender = ?)", (number,)
    )
    erased = db.execute(f"UPDATE turns SET {_WORDLESS} WHERE sender = ?", (number,)).rowcount
    db.execute("DELETE FROM threads WHERE sender = ?", (number,))
    Outbox(db).erase(number)
    Arrivals(db).erase(number)
    refused.forget(db, number)
    revisions.erase(db, "instr(text, ?)", number)
    for rowid, events in db.execute("SELECT rowid, events FROM trenches").fetchall():
        if number in events:
            db.execute("UPDATE trenches SET events = ? WHERE rowid = ?", (_by_nobody(events, number), rowid))
    return int(erased)


def erase_before(db: Database, day: datetime) -> int:
    """Erase all words of exchanges sent before `day`, and the trenches that were closed by then.

    Returns how many exchanges that was. A trench that is still open keeps what was told about it.
    """
    limit = (moment(day),)
    erased = db.execute(f"UPDATE turns SET {_WORDLESS} WHERE sent_at < ? AND salt IS NOT NULL", limit)
    db.execute("DELETE FROM pieces WHERE received_at < ?", limit)
    db.execute("DELETE FROM refused WHERE at < ?", limit)
    revisions.erase(db, "at < ?", limit[0])
    db.execute("DELETE FROM sketches WHERE made_at < ?", limit)
    db.execute("DELETE FROM threads WHERE exchange IN (SELECT exchange FROM turns WHERE sent_at < ?)", limit)
    db.execute(
        "DELETE FROM trenches WHERE open = 0 AND exchange IN (SELECT exchange FROM turns WHERE sent_at < ?)",
        limit,
    )
    db.execute(
        "UPDATE outbox SET text = '', recipient = '' WHERE made_at < ? AND state NOT IN ('waiting', 'going')",
        limit,
    )
    return int(erased.rowcount)


def _by_nobody(events: str, number: str) -> str:
    told = json.loads(events)
    for event in told:
        if event["number"] == number:
            event["by"] = NOBODY
            event.pop("words", None)
            reading = event["reading"]
            reading.pop("unread", None)
            if reading.get("left_over"):  # that something was left over stays: it helps nothing
                reading["left_over"] = [NOBODY]
    # The number stands in the names of events too.
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).replace(number, NOBODY)
