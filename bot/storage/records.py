"""The trench records in the database: only what was told is kept, the states are worked again from it.

Every method runs inside `Store.transaction()`.
"""

import json
import re
import secrets
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from pydantic import TypeAdapter
from sqlite_utils import Database

from bot.language.tokens import MOST_DIGITS
from bot.storage.sealed import seal_of, sealed_text
from knowledge.record import trench
from knowledge.record.trench import Event, Trench
from knowledge.sourced import Rulebook
from knowledge.tables.load import Tables

LAST_NUMBER = 10**MOST_DIGITS - 1
MOST_EVENTS = 20_000  # of the records kept at hand, all together
_EVENTS = TypeAdapter(tuple[Event, ...])
_EVENT = TypeAdapter(Event)


class _Version(NamedTuple):
    name: str
    rulebook: Rulebook
    kit: str


class _Line(NamedTuple):
    """One event as it is kept, and what of that its seal covers."""

    event: Event
    text: str
    sealed: str

    @classmethod
    def of(cls, event: Event) -> "_Line":
        text = _EVENT.dump_json(event, exclude_defaults=True).decode()
        return cls(event, text, sealed_text(json.loads(text)))


class WrittenRecord(NamedTuple):
    """The events of a record as they are kept, and their seal (see `sealed`)."""

    events: str
    seal: str
    lines: tuple[_Line, ...]


class _Known(NamedTuple):
    """A record at hand, with its lines where it was written since it was read."""

    version: _Version
    trench: Trench
    lines: tuple[_Line, ...]


class Records:
    """The trenches of one database."""

    def __init__(self, db: Database, tables: Tables, most_events: int = MOST_EVENTS) -> None:
        self._db = db
        self._tables = tables
        self._most_events = most_events
        # One version of a trench, by its name: a row that has another is read anew, so none is ever stale,
        # not even one of a transaction that came to nothing.
        self._known: OrderedDict[tuple[str, str], _Known] = OrderedDict()
        self._events = 0

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
        if known and known.version == version:
            self._known.move_to_end((site, ref))
            return known.trench
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

    def written(self, changed: Trench) -> WrittenRecord:
        """A record as it is kept. An event that was written before is not written anew."""
        known = self._known.get((changed.site, changed.ref))
        before = {line.event.id: line for line in known.lines} if known else {}
        lines = tuple(
            line if (line := before.get(event.id)) and line.event is event else _Line.of(event)
            for event in changed.events
        )
        return WrittenRecord(
            f"[{','.join(line.text for line in lines)}]", seal_of(line.sealed for line in lines), lines
        )

    def put(self, changed: Trench, exchange: int, written: WrittenRecord | None = None) -> None:
        """Keep a record as it stands after an exchange."""
        written = written or self.written(changed)
        version = _Version(secrets.token_hex(8), changed.rulebook, changed.kit)
        row = (changed.ref, changed.site, changed.rulebook, changed.kit, written.events)
        self._db.execute(
            "INSERT OR REPLACE INTO trenches"
            " (ref, site, rulebook, kit, events, open, exchange, number, version)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (*row, not changed.closed, exchange, _number(changed.ref), version.name),
        )
        self._keep(version, changed, written.lines)

    def _work(self, site: str, ref: str, version: _Version) -> Trench:
        (text,) = self._db.execute(
            "SELECT events FROM trenches WHERE site = ? AND ref = ?", (site, ref)
        ).fetchone()
        return trench.rebuild(
            ref, site, version.rulebook, version.kit, _EVENTS.validate_json(text), self._tables
        )

    def _keep(self, version: _Version, worked: Trench, lines: tuple[_Line, ...] = ()) -> None:
        """Keep the latest, and let go of those longest not looked at."""
        name = (worked.site, worked.ref)
        if (before := self._known.pop(name, None)) is not None:
            self._events -= len(before.trench.events)
        self._known[name] = _Known(version, worked, lines)
        self._events += len(worked.events)
        while self._events > self._most_events and len(self._known) > 1:
            _, gone = self._known.popitem(last=False)
            self._events -= len(gone.trench.events)


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
