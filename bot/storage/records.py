"""The trench records in the database: only what was told is kept, the states are worked again from it.

Every method runs inside `Store.transaction()`.
"""

import re
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from pydantic import TypeAdapter
from sqlite_utils import Database

from bot.language.tokens import MOST_DIGITS
from knowledge.record import trench
from knowledge.record.trench import Event, Trench
from knowledge.sourced import Rulebook
from knowledge.tables.load import Tables

LAST_NUMBER = 10**MOST_DIGITS - 1
MOST_KNOWN = 1024  # records kept at hand
_EVENTS = TypeAdapter(tuple[Event, ...])


class _Row(NamedTuple):
    ref: str
    site: str
    rulebook: Rulebook
    kit: str
    events: str


class Records:
    """The trenches of one database."""

    def __init__(self, db: Database, tables: Tables) -> None:
        self._db = db
        self._tables = tables
        # Keyed by all that is stored: a record that changed is another key, so none is ever stale.
        self._known: OrderedDict[_Row, Trench] = OrderedDict()

    def open(self, site: str) -> Mapping[str, Trench]:
        """The open trenches of a site by their reference, each read only when it is looked at."""
        return _Of(self, site, closed=False)

    def closed(self, site: str) -> Mapping[str, Trench]:
        """The closed ones in the same way."""
        return _Of(self, site, closed=True)

    def find(self, site: str, ref: str) -> Trench | None:
        """A trench of a site by its reference, open or closed."""
        row = self._db.execute(
            "SELECT ref, site, rulebook, kit, events FROM trenches WHERE site = ? AND ref = ?", (site, ref)
        ).fetchone()
        return self._work(_Row(*row)) if row else None

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

    def put(self, changed: Trench, exchange: int) -> None:
        """Keep a record as it stands after an exchange."""
        events = _EVENTS.dump_json(changed.events, exclude_defaults=True).decode()
        row = _Row(changed.ref, changed.site, changed.rulebook, changed.kit, events)
        self._db.execute(
            "INSERT OR REPLACE INTO trenches (ref, site, rulebook, kit, events, open, exchange, number)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (*row, not changed.closed, exchange, _number(changed.ref)),
        )
        self._keep(row, changed)

    def _work(self, row: _Row) -> Trench:
        found = self._known.get(row)
        if found is None:
            events = _EVENTS.validate_json(row.events)
            found = trench.rebuild(row.ref, row.site, row.rulebook, row.kit, events, self._tables)
        self._keep(row, found)
        return found

    def _keep(self, row: _Row, worked: Trench) -> None:
        self._known[row] = worked
        self._known.move_to_end(row)
        if len(self._known) > MOST_KNOWN:
            self._known.popitem(last=False)


class _Of(Mapping[str, Trench]):
    def __init__(self, records: Records, site: str, closed: bool) -> None:
        self._records = records
        self._site = site
        self._closed = closed

    def __getitem__(self, ref: str) -> Trench:
        found = self._records.find(self._site, ref)
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
