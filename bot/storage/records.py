"""The trench records in the database: only what was told is kept, the states are worked again from it.

Every method runs inside `Store.transaction()`.
"""

import re
import secrets
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from pydantic import TypeAdapter
from sqlite_utils import Database

from bot.language.tokens import MOST_DIGITS
from knowledge.record import trench
from knowledge.record.trench import Event, Trench
from knowledge.sourced import Rulebook
from knowledge.tables.load import Tables

LAST_NUMBER = 10**MOST_DIGITS - 1
MOST_EVENTS = 20_000  # of the records kept at hand, all together
_EVENT, _EVENTS = TypeAdapter(Event), TypeAdapter(tuple[Event, ...])


class _Version(NamedTuple):
    name: str
    rulebook: Rulebook
    kit: str


class Records:
    """The trenches of one database."""

    def __init__(self, db: Database, tables: Tables, most_events: int = MOST_EVENTS) -> None:
        self._db = db
        self._tables = tables
        self._most_events = most_events
        # One version of a trench, by its name: a row that has another is read anew, so none is ever stale,
        # not even one of a transaction that came to nothing.
        self._known: OrderedDict[tuple[str, str], tuple[_Version, Trench]] = OrderedDict()
        self._events = 0
        self._written: dict[
            tuple[str, str], dict[int, tuple[Event, str]]
        ] = {}  # of those at hand, by identity

    def open(self, site: str) -> Mapping[str, Trench]:
        """The open trenches of a site by their reference, each read only when it is looked at."""
        return _Of(self, site, closed=False)

    def closed(self, site: str) -> Mapping[str, Trench]:
        """The closed ones in the same way."""
        return _Of(self, site, closed=True)

    def find(self, site: str, ref: str) -> Trench | None:
        """A trench of a site by its reference, open or closed."""
        row = self._db.execute(
            "SELECT version, rulebook, kit FROM trenches WHERE site = ? AND ref = ?", (site, ref)
        ).fetchone()
        if row is None:
            return None
        version = _Version(*row)
        known = self._known.get((site, ref))
        if known and known[0] == version:
            self._known.move_to_end((site, ref))
            return known[1]
        worked = self._work(site, ref, version)
        self._keep(version, worked)
        return worked

    def next_ref(self, site: str) -> str:
        """A trench reference that this site never used, as "T8", and that a text can name."""
        (last,) = self._db.execute("SELECT max(number) FROM trenches WHERE site = ?", (site,)).fetchone()
        if (last or 0) < LAST_NUMBER:
            return f"T{(last or 0) + 1}"
        # Somebody has named the last one there is: the numbers that were passed over are left.
        (free,) = self._db.execute(
            "SELECT min(one.number) + 1 FROM (SELECT 0 AS number UNION SELECT number FROM trenches"
            " WHERE site = :site) AS one WHERE NOT EXISTS"
            " (SELECT 1 FROM trenches WHERE site = :site AND number = one.number + 1)",
            {"site": site},
        ).fetchone()
        return f"T{free}"

    def refs(self, site: str, closed: bool) -> list[str]:
        """The references of a site's open or closed trenches."""
        found = self._db.execute(
            "SELECT ref FROM trenches WHERE open = ? AND site = ? ORDER BY ref", (not closed, site)
        )
        return [ref for (ref,) in found]

    def written(self, changed: Trench) -> list[str]:
        """The events of a record as they are kept, each by itself: only those are written out that were not
        there the last time, so that a trench of many texts takes no longer with each."""
        name = (changed.site, changed.ref)
        before, lines = self._written.get(name, {}), dict[int, tuple[Event, str]]()
        for event in changed.events:
            kept = before.get(id(event))
            lines[id(event)] = kept or (event, _EVENT.dump_json(event, exclude_defaults=True).decode())
        self._written[name] = lines
        return [line for _, line in lines.values()]

    def put(self, changed: Trench, exchange: int, events: Sequence[str] | None = None) -> None:
        """Keep a record as it stands after an exchange; `events` are its own as `written`."""
        lines = self.written(changed) if events is None else events
        version = _Version(secrets.token_hex(8), changed.rulebook, changed.kit)
        row = (changed.ref, changed.site, changed.rulebook, changed.kit, f"[{','.join(lines)}]")
        self._db.execute(
            "INSERT OR REPLACE INTO trenches"
            " (ref, site, rulebook, kit, events, open, exchange, number, version)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (*row, not changed.closed, exchange, _number(changed.ref), version.name),
        )
        self._keep(version, changed)

    def _work(self, site: str, ref: str, version: _Version) -> Trench:
        (text,) = self._db.execute(
            "SELECT events FROM trenches WHERE site = ? AND ref = ?", (site, ref)
        ).fetchone()
        return trench.rebuild(
            ref, site, version.rulebook, version.kit, _EVENTS.validate_json(text), self._tables
        )

    def _keep(self, version: _Version, worked: Trench) -> None:
        """Keep the latest, and let go of those longest not looked at."""
        name = (worked.site, worked.ref)
        if (before := self._known.pop(name, None)) is not None:
            self._events -= len(before[1].events)
        self._known[name] = (version, worked)
        self._events += len(worked.events)
        while self._events > self._most_events and len(self._known) > 1:
            name, (_, gone) = self._known.popitem(last=False)
            self._events -= len(gone.events)
            self._written.pop(name, None)


class _Of(Mapping[str, Trench]):
    """Each trench as it stood when it was first looked at: for the time of one turn, or of one page."""

    def __init__(self, records: Records, site: str, closed: bool) -> None:
        self._records = records
        self._site = site
        self._closed = closed
        self._found: dict[str, Trench | None] = {}

    def __getitem__(self, ref: str) -> Trench:
        if ref not in self._found:
            self._found[ref] = self._records.find(self._site, ref)
        found = self._found[ref]
        if found is None or found.closed != self._closed:
            raise KeyError(ref)
        return found

    def __iter__(self) -> Iterator[str]:
        return iter(self._records.refs(self._site, self._closed))

    def __len__(self) -> int:
        return len(self._records.refs(self._site, self._closed))


def _number(ref: str) -> int | None:
    match = re.fullmatch(rf"T([0-9]{{1,{MOST_DIGITS}}})", ref)
    return int(match[1]) if match else None
