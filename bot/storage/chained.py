"""Rows that are a chain beside that of the log: added and never changed, at most erased.

Each row covers the one before it, and the log's last hash of its time.
"""

import hashlib
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from bot.storage.log import ChainCheck
from bot.storage.turns import START, digest


@dataclass(frozen=True)
class Chained:
    """One such table. `number` is its key, from 1 on; `said` what can be erased with the salt, `beside` what
    stays; `name` what a row is called."""

    table: str
    number: str
    said: tuple[str, ...]
    beside: tuple[str, ...]
    name: str

    def add(self, db: Database, row: Mapping[str, Any]) -> int:
        """Add a row after the last, sealed. Returns its number."""
        made = dict(row)
        last = db.execute(
            f"SELECT {self.number}, hash FROM {self.table} ORDER BY {self.number} DESC LIMIT 1"
        ).fetchone()
        made[self.number], made["previous"] = (last[0] + 1, last[1]) if last else (1, START)
        turn = db.execute("SELECT hash FROM turns ORDER BY exchange DESC LIMIT 1").fetchone()
        made["after"] = turn[0] if turn else START
        made["salt"] = secrets.token_hex(16)
        made["body"] = self._body(made)
        made["hash"] = self._hash(made)
        names = ", ".join(made)
        db.execute(
            f"INSERT INTO {self.table} ({names}) VALUES ({', '.join(':' + name for name in made)})", made
        )
        return int(made[self.number])

    def verify(self, db: Database) -> ChainCheck:
        """Work every hash again, and name the first row that does not fit."""
        previous, count, erased = START, 0, 0
        if self.table not in db.table_names():  # a copy of a database from before there was any
            return ChainCheck(0, START)
        for row in db.query(f"SELECT * FROM {self.table} ORDER BY {self.number}"):
            if why := self._break(row, count + 1, previous):
                return ChainCheck(count, previous, erased, row[self.number], why)
            previous, count, erased = row["hash"], count + 1, erased + (row["salt"] is None)
        return ChainCheck(count, previous, erased)

    def _break(self, row: Mapping[str, Any], number: int, previous: str) -> str:
        if row[self.number] != number:
            return f"{self.name} {number} is gone"
        if row["previous"] != previous:
            return f"it does not follow the {self.name} before it"
        if row["salt"] is None:
            if any(row[name] is not None for name in self.said):
                return "something stands where it was erased"
        elif row["body"] != self._body(row):
            return "what was saved was changed"
        if row["hash"] != self._hash(row):
            return "what stands beside it was changed"
        return ""

    def _body(self, row: Mapping[str, Any]) -> str:
        return digest([row["salt"], *(_covered(row[name]) for name in self.said)])

    def _hash(self, row: Mapping[str, Any]) -> str:
        return digest([row[name] for name in (self.number, *self.beside, "body", "after", "previous")])


def _covered(value: Any) -> Any:
    return hashlib.sha256(value).hexdigest() if isinstance(value, bytes) else value
