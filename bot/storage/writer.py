"""The one thread that writes: turns that wait together share one transaction and one flush to the disk.

Each caller is answered only after its own transaction is on the disk. A lone message does not wait
for company: it is its own batch.
"""

import logging
import queue
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any, NamedTuple, TypeVar

from bot.storage.turns import Store

T = TypeVar("T")
log = logging.getLogger("trenchword.writer")


class Busy(Exception):  # noqa: N818 - it says how things are
    """Too many messages wait already; this one was not taken."""


class _Job(NamedTuple):
    work: Callable[[], Any]
    done: "Future[Any]"


class Writer:
    """Runs jobs on the store in the order in which they came."""

    def __init__(self, store: Store, most_waiting: int = 2000, most_together: int = 64) -> None:
        self._store = store
        self._most_waiting = most_waiting
        self._most_together = most_together
        self._jobs: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="writer", daemon=True)
        self._thread.start()

    @property
    def waiting(self) -> int:
        """How many jobs nobody has begun."""
        return self._jobs.qsize()

    def submit(self, work: Callable[[], T]) -> "Future[T]":
        """Have `work` done inside a transaction; the future is set once that is on the disk.

        Raises Busy where the queue is full. The future raises what `work` or the commit raised.
        """
        if self.waiting >= self._most_waiting:
            raise Busy(f"{self.waiting} messages wait already")
        job = _Job(work, Future())
        self._jobs.put(job)
        return job.done

    def stop(self) -> None:
        """Finish what was taken, then end the thread."""
        self._jobs.put(None)
        self._thread.join()

    def _run(self) -> None:
        going = True
        while going:
            batch: list[_Job] = []
            job = self._jobs.get()
            while job is not None:
                batch.append(job)
                if len(batch) == self._most_together or self._jobs.empty():
                    break
                job = self._jobs.get()
            going = job is not None
            self._commit([job for job in batch if job.done.set_running_or_notify_cancel()])

    def _commit(self, batch: list[_Job]) -> None:
        if not batch:
            return
        try:
            with self._store.transaction():
                results = [job.work() for job in batch]
        except sqlite3.OperationalError as error:
            # The disk is full or the file is locked: it would be so for each of them alone.
            _fail(batch, error)
        except Exception as error:
            if len(batch) == 1:
                _fail(batch, error)
            else:
                # One bad job must fail nobody else.
                for job in batch:
                    self._commit([job])
        else:
            for job, result in zip(batch, results, strict=True):
                job.done.set_result(result)


def _fail(batch: list[_Job], error: Exception) -> None:
    log.error("%d not written: %s: %s", len(batch), type(error).__name__, error)
    for job in batch:
        job.done.set_exception(error)
