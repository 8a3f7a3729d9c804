"""What the record of a trench came to, as a digest that the log covers: so that nobody can change a record
behind its back and have people let in on it.

It covers what was told and when, and nothing that erasing takes away: no name, no number, no words.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from sqlite_utils import Database

PERSONAL = ("id", "by", "number", "words", "seen")
UNREAD = ("unread", "left_over")


def seal(events: Iterable[Mapping[str, Any]]) -> str:
    """The digest of a record, of its events as JSON."""
    return seal_of(sealed_text(event) for event in events)


def sealed_text(event: Mapping[str, Any]) -> str:
    """What of one event the digest covers."""
    return json.dumps(_bare(event), ensure_ascii=False)


def seal_of(texts: Iterable[str]) -> str:
    """The digest of a record, of the texts of its events: that of a JSON list of them."""
    return hashlib.sha256(f"[{', '.join(texts)}]".encode()).hexdigest()


def sealed(site: str, ref: str, closed: bool, seal_: str) -> list[Any]:
    """A record as a turn's row has it."""
    return [site, ref, closed, seal_]


def broken(db: Database) -> tuple[int, str] | None:
    """The first exchange of which a record is no longer what it came to by it, and why; None where none is.

    Of records that no turn with digests has touched nothing can be said.
    """
    if "records" not in db.table("turns").columns_dict:  # a copy from before an upgrade
        return None
    last: dict[tuple[str, str], tuple[int, bool, str]] = {}
    for exchange, records in db.execute(
        "SELECT exchange, records FROM turns WHERE records IS NOT NULL AND records <> '[]' ORDER BY exchange"
    ):
        for site, ref, closed, seal_ in json.loads(records):
            last[site, ref] = (exchange, closed, seal_)
    found = {(site, ref): (exchange, events) for site, ref, exchange, events in _records(db)}
    for (site, ref), (exchange, closed, seal_) in last.items():
        row = found.get((site, ref))
        if row is None:
            if not closed:  # a closed one may have been erased as old
                return exchange, f"the record of {ref} is gone"
        elif row[0] != exchange or seal(json.loads(row[1])) != seal_:
            return exchange, f"the record of {ref} was changed"
    for (site, ref), (exchange, _) in found.items():
        told = db.execute("SELECT records IS NULL FROM turns WHERE exchange = ?", (exchange,)).fetchone()
        if (site, ref) not in last and (told is None or not told[0]):
            return exchange, f"no exchange made the record of {ref}"
    return None


def _records(db: Database) -> Iterator[tuple[str, str, int, str]]:
    yield from db.execute("SELECT site, ref, exchange, events FROM trenches")


def _bare(event: Mapping[str, Any]) -> dict[str, Any]:
    """What of an event stays when words are erased."""
    reading = {name: value for name, value in event["reading"].items() if name not in UNREAD}
    kept = {name: value for name, value in event.items() if name not in PERSONAL} | {"reading": reading}
    return kept | {"left_over": bool(event["reading"].get("left_over")), "seen": len(event.get("seen", ()))}
