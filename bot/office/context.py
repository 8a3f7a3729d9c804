"""What every page works with, handed in whole at the start; reading the database beside the event loop."""

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from aiohttp import web
from sqlite_utils import Database

from bot.clock import Clock
from bot.config.basis import Basis
from bot.config.in_force import InForce
from bot.config.people import People
from bot.delivery.rounds import Submit
from bot.message import Site
from bot.storage.log import open_to_read
from bot.storage.records import Records

T = TypeVar("T")


class ReadConnection:
    """One reading thread's own connection, and the trench records read by it."""

    def __init__(self, file: Path, basis: Basis) -> None:
        self.db: Database = open_to_read(file)
        self._kept: dict[type[Any], Any] = {}
        self.use(basis)

    def use(self, basis: Basis) -> None:
        """Work the records with these from now on."""
        self.basis, self.records = basis, Records(self.db, basis.tables)

    def kept(self, kind: type[T]) -> T:
        """What this thread keeps at hand from one page to the next, made when it is first asked for."""
        found: T = self._kept.setdefault(kind, kind())
        return found


class DatabaseReader:
    """Reads the database on threads of its own, each with its own read-only connection."""

    def __init__(self, file: Path, basis: Basis) -> None:
        self._file = file
        self.basis = basis
        self._own = threading.local()
        self._open: list[ReadConnection] = []
        self._threads = ThreadPoolExecutor(max_workers=2, thread_name_prefix="office")

    async def __call__(self, find: Callable[[ReadConnection], T]) -> T:
        """What `find` reads. It sees one state of the database throughout."""
        return await asyncio.get_running_loop().run_in_executor(self._threads, self._found, find)

    def _found(self, find: Callable[[ReadConnection], T]) -> T:
        connection: ReadConnection | None = getattr(self._own, "connection", None)
        if connection is None:
            connection = self._own.connection = ReadConnection(self._file, self.basis)
            self._open.append(connection)
        if connection.basis is not self.basis:
            connection.use(self.basis)
        connection.db.execute("BEGIN")
        try:
            return find(connection)
        finally:
            connection.db.execute("ROLLBACK")

    def stop(self) -> None:
        """Let the threads end, and close what they read by: an open reader leaves the log in its `-wal`."""
        self._threads.shutdown(cancel_futures=True)
        while self._open:
            self._open.pop().db.close()


@dataclass
class OfficeContext:
    """The pages' own view of the service. `write` is the service's way to the store's `db`."""

    file: Path
    db: Database
    write: Submit
    read: DatabaseReader
    in_force: InForce
    clock: Clock

    def use(self, in_force: InForce) -> None:
        """Show these from now on."""
        self.in_force, self.read.basis = in_force, in_force.basis

    @property
    def basis(self) -> Basis:
        return self.in_force.basis

    @property
    def people(self) -> People:
        return self.in_force.people

    @property
    def now(self) -> datetime:
        return self.clock.now()

    @property
    def zone(self) -> tzinfo:
        """The clock of pages that show several sites: that of the first site."""
        return ZoneInfo(next((self.people.site(p.site).zone for p in self.people), "UTC"))

    @property
    def sites(self) -> list[Site]:
        """Every site that somebody works on, in the order of the people, then the other ones."""
        names = dict.fromkeys([*(p.site for p in self.people), *(s.name for s in self.people.described)])
        return [self.people.site(name) for name in names]


OFFICE = web.AppKey("desk", OfficeContext)
