"""Taking words off the record; the chain of the log stays whole, since it covers digests of the words."""

import json
from datetime import datetime

from sqlite_utils import Database

from bot.channels.segments import to_gsm
from bot.config import revisions
from bot.delivery.outbox import Outbox
from bot.storage import acknowledged, pictures, refused
from bot.storage.arrivals import Arrivals
from bot.storage.turns import SPOKEN, moment

NOBODY = "erased"
LEAST_SHOWN = 40  # characters of a text that any quotation of it begins with
TELLING = 8  # characters: "yes" and the like are nobody's words
_WORDLESS = ", ".join(f"{name} = NULL" for name in (*SPOKEN, "salt"))


def erase_person(db: Database, number: str) -> int:
    """Erase what this number said and was told. Returns how many exchanges that was.

    What was told about a trench stays told, by nobody. What others said, and whom it set off an alert to,
    stays theirs, until it is old enough to be erased; but where they were shown these words, what they were
    told goes with them. Who is still among the people in force stays there:
    take them out in the office first.
    """
    db.execute(
        "DELETE FROM sketches WHERE exchange IN (SELECT exchange FROM turns WHERE sender = ?)", (number,)
    )
    quoted = _said(db, number)
    erased = db.execute(f"UPDATE turns SET {_WORDLESS} WHERE sender = ?", (number,)).rowcount
    erased += sum(_erase_quotes(db, words) for words in quoted)
    db.execute("DELETE FROM threads WHERE sender = ?", (number,))
    acknowledged.erase(db, number)
    Outbox(db).erase(number)
    Arrivals(db).erase(number)
    pictures.erase_person(db, number)
    refused.forget(db, number)
    revisions.erase(db, "instr(text, ?)", number)
    for rowid, events in db.execute("SELECT rowid, events FROM trenches").fetchall():
        if number in events:
            db.execute(
                "UPDATE trenches SET events = ?, version = hex(randomblob(8)) WHERE rowid = ?",
                (_by_nobody(events, number), rowid),
            )
    return int(erased)


def erase_before(db: Database, day: datetime) -> int:
    """Erase all words of exchanges sent before `day`, and the trenches that were closed by then.

    Returns how many exchanges that was. A trench that is still open keeps what was told about it.
    """
    limit = (moment(day),)
    erased = db.execute(f"UPDATE turns SET {_WORDLESS} WHERE sent_at < ? AND salt IS NOT NULL", limit)
    db.execute("DELETE FROM pieces WHERE received_at < ?", limit)
    db.execute("DELETE FROM refused WHERE at < ?", limit)
    acknowledged.erase_before(db, limit[0])
    pictures.erase_before(db, limit[0])
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


def _said(db: Database, number: str) -> set[str]:
    """What a number wrote, as far as it is quoted to others, in each of the forms in which it may stand."""
    texts = (text for (text,) in db.execute("SELECT text FROM turns WHERE sender = ?", (number,)) if text)
    begun = {text[:LEAST_SHOWN].strip() for text in texts if len(text.strip()) >= TELLING}
    return {
        form for text in begun for form in (text, json.dumps(text, ensure_ascii=False)[1:-1], to_gsm(text))
    }


def _erase_quotes(db: Database, words: str) -> int:
    """Erase the exchanges of others in which these words stand. Returns how many."""
    shown = "instr(reply, ?) OR instr(outcome, ?) OR instr(alerts, ?)"
    db.execute("DELETE FROM threads WHERE instr(state, ?)", (words,))
    db.execute(
        "UPDATE outbox SET text = '' WHERE instr(text, ?) AND state NOT IN ('waiting', 'going')", (words,)
    )
    found = db.execute(f"UPDATE turns SET {_WORDLESS} WHERE salt IS NOT NULL AND ({shown})", (words,) * 3)
    return int(found.rowcount)


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
