"""The one thread that writes: turns that wait together share one transaction and one flush to the disk.

Each caller is answered only after its own transaction is on the disk. A lone message does not wait
for company: it is its own batch. What is urgent goes before all that waits, and a batch is no longer than
an urgent one can wait.
"""

import itertools
import logging
import queue
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import Future
from time import perf_counter
from typing import Any, NamedTuple, TypeVar

from bot.storage.turns import Store

T = TypeVar("T")
log = logging.getLogger("trenchword.writer")


class Busy(Exception):  # noqa: N818 - it says how things are
    """Too many messages wait already; this one was not taken."""


class _Job(NamedTuple):
    work: Callable[[], Any]
    done: "Future[Any]"


class _Place(NamedTuple):
    """Where a job stands in the queue: urgent ones first, each in the order in which it came."""

    rank: int
    number: int
    job: _Job | None


URGENT, USUAL, LAST = range(3)
BATCH_S = 0.1  # what a batch should take, by how long the jobs of the last one took


class Writer:
    """Runs jobs on the store in the order in which they came."""

    def __init__(self, store: Store, most_waiting: int = 2000, most_together: int = 64) -> None:
        self._store = store
        self._most_waiting = most_waiting
        self._most_together = most_together
        self._jobs: queue.PriorityQueue[_Place] = queue.PriorityQueue()
        self._numbers = itertools.count()
        self._together = most_together
        self._thread = threading.Thread(target=self._run, name="writer", daemon=True)
        self._thread.start()

    @property
    def waiting(self) -> int:
        """How many jobs nobody has begun."""
        return self._jobs.qsize()

    def submit(self, work: Callable[[], T], *, urgent: bool = False) -> "Future[T]":
        """Have `work` done inside a transaction; the future is set once that is on the disk.

        Raises Busy where the queue is full; half as much again is kept for what is urgent. The future raises
        what `work` or the commit raised.
        """
        if self.waiting >= self._most_waiting * (1.5 if urgent else 1):
            raise Busy(f"{self.waiting} messages wait already")
        job = _Job(work, Future())
        self._put(URGENT if urgent else USUAL, job)
        return job.done

    def _put(self, rank: int, job: _Job | None) -> None:
        self._jobs.put(_Place(rank, next(self._numbers), job))

    def stop(self) -> None:
        """Finish what was taken, then end the thread."""
        self._put(LAST, None)
        self._thread.join()

    def _run(self) -> None:
        going = True
        while going:
            batch: list[_Job] = []
            job = self._jobs.get().job
            while job is not None:
                batch.append(job)
                if len(batch) >= self._together or self._jobs.empty():
                    break
                job = self._jobs.get().job
            going = job is not None
            begun = perf_counter()
            self._commit([job for job in batch if job.done.set_running_or_notify_cancel()])
            if batch:
                each_s = (perf_counter() - begun) / len(batch)
                self._together = max(1, min(self._most_together, int(BATCH_S / max(each_s, 1e-6))))

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
