"""What waits on the store is worked off a few at once: a look now and then, and as soon as one is woken."""

import asyncio
import logging
import sqlite3
from collections.abc import Awaitable, Callable, Coroutine
from typing import Protocol, TypeVar

from bot.storage.writer import Busy

T = TypeVar("T")


class Submit(Protocol):
    """Has work done inside a transaction of the store."""

    def __call__(self, work: Callable[[], T]) -> Awaitable[T]: ...


class Rounds:
    """The look, the tasks that are on their way, and the store that is asked until it takes what is done."""

    def __init__(self, submit: Submit, *, most: int, every_s: float, log: logging.Logger) -> None:
        self._submit, self._most, self._every_s, self._log = submit, most, every_s, log
        self.tasks: dict[asyncio.Task[None], int] = {}
        self._woken = asyncio.Event()

    @property
    def room(self) -> int:
        """How many more may be begun."""
        return self._most - len(self.tasks)

    def wake(self) -> None:
        """Look now, not only at the next time."""
        self._woken.set()

    def begin(self, work: Coroutine[None, None, None], number: int = 0) -> None:
        """Have one worked off; once it ends there is another look."""
        task = asyncio.create_task(work)
        self.tasks[task] = number
        task.add_done_callback(self._done)

    def _done(self, task: asyncio.Task[None]) -> None:
        self.tasks.pop(task, None)
        self._woken.set()

    async def rest(self) -> None:
        """Until the next look."""
        try:
            async with asyncio.timeout(self._every_s):
                await self._woken.wait()
        except TimeoutError:
            pass
        self._woken.clear()

    async def end(self) -> None:
        """Until all that is on its way has ended."""
        if self.tasks:
            await asyncio.wait(self.tasks)

    async def surely(self, work: Callable[[], T]) -> T:
        """The result of work on the store, tried until the store takes it."""
        while True:
            try:
                return await self._submit(work)
            except (sqlite3.Error, Busy) as error:
                self._log.error("store: %s: %s", type(error).__name__, error)
                await asyncio.sleep(self._every_s)
