"""The trench records in the database: only what was told is kept, the states are worked again from it.

Every method runs inside `Store.transaction()`.
"""

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import NamedTuple

from pydantic import TypeAdapter
from sqlite_utils import Database

from knowledge import trench
from knowledge.outcome import Rulebook
from knowledge.tables import Tables
from knowledge.trench import Event, Trench

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
        # Keyed by all that is stored: a record that changed is another key, so none is ever stale.
        self._work = lru_cache(maxsize=1024)(lambda row: _worked(row, tables))

    def open(self, site: str) -> Mapping[str, Trench]:
        """The open trenches of a site by their reference, each worked only when it is looked at."""
        found = self._db.execute(
            "SELECT ref, site, rulebook, kit, events FROM trenches WHERE open = 1 AND site = ?", (site,)
        )
        return _Open({row[0]: _Row(*row) for row in found}, self._work)

    def find(self, site: str, ref: str) -> Trench | None:
        """A trench of a site by its reference, open or closed."""
        row = self._db.execute(
            "SELECT ref, site, rulebook, kit, events FROM trenches WHERE site = ? AND ref = ?", (site, ref)
        ).fetchone()
        return self._work(_Row(*row)) if row else None

    def next_ref(self, site: str) -> str:
        """A trench reference that this site never used, as "T8"."""
        used = self._db.execute("SELECT ref FROM trenches WHERE site = ?", (site,))
        return trench.next_ref(ref for (ref,) in used)

    def put(self, changed: Trench, exchange: int) -> None:
        """Keep a record as it stands after an exchange."""
        self._db.execute(
            "INSERT OR REPLACE INTO trenches (ref, site, rulebook, kit, events, open, exchange)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (
                changed.ref,
                changed.site,
                changed.rulebook,
                changed.kit,
                _EVENTS.dump_json(changed.events, exclude_defaults=True).decode(),
                not changed.closed,
                exchange,
            ),
        )


class _Open(Mapping[str, Trench]):
    def __init__(self, rows: Mapping[str, _Row], work: Callable[[_Row], Trench]) -> None:
        self._rows = rows
        self._work = work

    def __getitem__(self, ref: str) -> Trench:
        return self._work(self._rows[ref])

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)


def _worked(row: _Row, tables: Tables) -> Trench:
    events = _EVENTS.validate_json(row.events)
    return trench.rebuild(row.ref, row.site, row.rulebook, row.kit, events, tables)
