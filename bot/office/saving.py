"""Saving what a keeper changed: checked whole, written down, and in force from the next message on."""

import asyncio
import contextlib
import logging
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import partial

from aiohttp import web

from bot.config import revisions
from bot.config.basis import Basis
from bot.config.in_force import InForce
from bot.config.people import People
from bot.config.revisions import Revision
from bot.config.shipped import KITS, PEOPLE
from bot.office import validation
from bot.office.context import OfficeContext, ReadConnection
from bot.office.figure_rows import check_sources
from bot.storage.writer import Busy
from knowledge.sourced import DataError

log = logging.getLogger("trenchword.office")


@dataclass(frozen=True)
class Draft:
    """A text to be saved: `base` is the change that it was made on, `seen` the last one of all files when its
    consequences were shown."""

    file: str
    text: str
    base: int
    seen: int


class OvertakenError(Exception):
    """Somebody else saved the file, or another one, since the draft was made or looked at."""


class Saving:
    """The only place that saves a file and puts it in force; one at a time."""

    def __init__(self, office: OfficeContext, use: Callable[[Basis, People], None]) -> None:
        self._office = office
        self._use = use
        self._one_at_a_time = asyncio.Lock()
        self._last: tuple[tuple[int, str, str], InForce] | None = None

    async def current(self) -> tuple[InForce, int]:
        """What is in force by the database, and the number of the last change."""
        found, head = await self._office.read(_latest)
        return await asyncio.to_thread(self._office.in_force.with_changes, found), head

    async def checked(self, file: str, text: str) -> InForce:
        """What would be in force with this text. Raises DataError, with file, key and reason."""
        in_force, head = await self.current()
        in_use, was = await self._office.read(
            lambda connection: (_kits_in_use(connection), _was(connection, file, text))
        )
        if text and file != PEOPLE and not was:
            today = self._office.now.astimezone(self._office.zone).date()
            _check_source(file, in_force.texts.get(file, ""), text, today)
        if not text and file != PEOPLE:
            _check_gone(in_force, file, in_use)
        what = (head, file, text)
        last = self._last  # what was looked at is mostly what is saved next: it is not worked out again
        if last is None or last[0] != what:
            last = self._last = (what, await asyncio.to_thread(checked, in_force, file, text))
        return last[1]

    async def save(self, draft: Draft, why: str, user: str) -> int:
        """Check once more, write down, answer from it. Returns the number of the change.

        Raises DataError where it cannot be used, OvertakenError where it was made on something older.
        """
        async with self._one_at_a_time:
            in_force, head = await self.current()
            if in_force.base(draft.file) != draft.base or head != draft.seen:
                raise OvertakenError
            after = await self.checked(draft.file, draft.text)
            came = in_force.shipped.get(draft.file, "")
            put = partial(self._put, draft, came, why, user)
            number = await self._office.write(put)
            found, _ = await self._office.read(_latest)
            after = await asyncio.to_thread(after.with_changes, found)
            await self._swap(after)
            log.info("saved: change=%d file=%s user=%s", number, draft.file, user)
            return number

    def _put(self, draft: Draft, came: str, why: str, user: str) -> int:
        if revisions.head(self._office.db) != draft.seen:  # the command may have saved beside the service
            raise OvertakenError
        return revisions.put(self._office.db, draft.file, draft.text, came, why, user, datetime.now(UTC))

    async def _swap(self, after: InForce) -> None:
        while True:
            try:
                await self._office.write(partial(self._use, after.basis, after.people))
                break
            except Busy:  # it is saved, so it must come into force: the queue empties
                await asyncio.sleep(0.05)
        self._office.use(after)


def checked(in_force: InForce, file: str, text: str) -> InForce:
    """What would be in force. Raises DataError, with file, key and reason."""
    after = in_force.with_text(file, text)
    if text and file != PEOPLE:
        validation.check(file, text, in_force.shipped.get(file, ""), after.basis)
    return after


def _check_gone(in_force: InForce, file: str, kits_in_use: set[str]) -> None:
    """Only a kit that the office made can go, and only while no trench on record was begun with it."""
    if in_force.shipped.get(file) or file.removeprefix(KITS).removesuffix(".toml") in kits_in_use:
        raise DataError(f"{file}: (file): it cannot be taken away: trenches on record, or the rules, need it")


def _check_source(file: str, before: str, text: str, today: date) -> None:
    with contextlib.suppress(tomllib.TOMLDecodeError):  # the loader says so, with its place
        check_sources(file, before, text, today)


def _was(connection: ReadConnection, file: str, text: str) -> bool:
    """Whether the file once read so: going back needs no new source."""
    sql = "SELECT 1 FROM changes WHERE file = ? AND text = ?"
    return connection.db.execute(sql, (file, text)).fetchone() is not None


def _latest(connection: ReadConnection) -> tuple[dict[str, Revision], int]:
    return revisions.latest(connection.db), revisions.head(connection.db)


def _kits_in_use(connection: ReadConnection) -> set[str]:
    return {name for (name,) in connection.db.execute("SELECT DISTINCT kit FROM trenches")}


SAVING = web.AppKey("keeping", Saving)
