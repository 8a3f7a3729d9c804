"""What a text costs as what stands behind it grows, and by which power: 0 is no growth, 1 is in proportion.

    python tests/bench/growth.py [--exchanges 10000 100000] [--out FOLDER]     # a million takes minutes

What this process computes, without HTTP: the median of several texts, each on the disk. The exponent is that
of the last ten-fold, where it is greatest.
"""

import argparse
import os
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from math import log10
from pathlib import Path
from statistics import median

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "support"), str(HERE.parents[1])]

import pages  # noqa: E402
from days import DAY, Crew  # noqa: E402
from fleet import crew_number, write_people  # noqa: E402
from table import Row, markdown  # noqa: E402

from bot.clock import MachineClock  # noqa: E402
from bot.config.basis import Basis  # noqa: E402
from bot.config.people import People  # noqa: E402
from bot.message import Message  # noqa: E402
from bot.service import Service  # noqa: E402
from bot.storage.records import Records  # noqa: E402
from bot.storage.turns import Store  # noqa: E402
from knowledge.reading import BuriedService, Details, Soil  # noqa: E402
from knowledge.sizing.size import size  # noqa: E402

MANY = (10, 100, 1000)
SERVICES = (1, 10, 100)
TEXTS = 9
SIZING = "{ref} depth 1.5m width 0.8m length 6m firm clay dry"


class Crewed:
    """A service on a file, and one crew that texts it."""

    def __init__(self, file: Path, basis: Basis) -> None:
        people = file.with_suffix(".toml")
        write_people(people, 1)
        self.store, self._tables = Store(file), basis.tables
        self._service = Service(self.store, People.load(people), basis, MachineClock())
        self._count = 0
        self._at = datetime.now(UTC) - timedelta(hours=1)

    def say(self, text: str, who: str = "F") -> float:
        """Text it. Returns what that computed, in seconds, with the commit."""
        self._count += 1
        self._at += timedelta(milliseconds=100)
        message = Message(
            id=f"g-{self._count}",
            channel="chat",
            sender=crew_number(0, who),
            text=text,
            sent_at=self._at,
            received_at=self._at,
        )
        begun = time.thread_time()
        with self.store.transaction():
            self._service.answer(message)
        return time.thread_time() - begun

    def day(self) -> "Crewed":
        """All that a crew tells of T1 in a day."""
        crew = Crew.of(0)
        for step in DAY:
            self.say(crew.text(step), step.who)
        return self

    def open(self, count: int) -> None:
        """As many trenches as T1 is, open beside it."""
        with self.store.transaction():
            records = Records(self.store.db, self._tables)
            one = records.find("Lane 0", "T1")
            assert one is not None
            for n in range(2, count + 1):
                records.put(replace(one, ref=f"T{n}"), 1)


def of_texts(crew: Crewed) -> dict[str, float]:
    """What each kind of text takes: the median, seconds."""
    asked = {
        "report": "T1 all at 40 bar",
        "entry": "can we go in T1?",
        "sizing": SIZING.format(ref="T1"),
        "status": "status",
    }
    for text in asked.values():
        crew.say(text)  # what is loaded or read at first use
    return {kind: median(crew.say(text) for _ in range(TEXTS)) for kind, text in asked.items()}


def open_trenches(folder: Path, basis: Basis) -> Iterator[tuple[int, dict[str, float]]]:
    for count in MANY:
        crew = Crewed(folder / f"open-{count}.sqlite", basis).day()
        crew.open(count)
        yield count, of_texts(crew)
        crew.store.close()


def events(folder: Path, basis: Basis) -> Iterator[tuple[int, dict[str, float]]]:
    for count in MANY:
        crew = Crewed(folder / f"events-{count}.sqlite", basis).day()
        for n in range(count - len(DAY)):
            crew.say("T1 no water" if n % 2 else "T1 all at 40 bar")
        yield count, of_texts(crew)
        crew.store.close()


def services(folder: Path, basis: Basis) -> Iterator[tuple[int, dict[str, float]]]:
    for count in SERVICES:
        chance = random.Random(count)
        crossing = tuple(
            BuriedService(
                what="water", at_m=2.0 * n + chance.uniform(0.8, 1.2), depth_m=chance.uniform(0.3, 0.9)
            )
            for n in range(count)
        )
        trench = Details(
            depth_m=1.5,
            width_m=0.8,
            length_m=2.0 * count + 6,
            soil=Soil(kind="clay", state="firm"),
            water="dry",
            services=crossing,
        )
        work = partial(size, trench, basis.tables)
        yield count, {"sizing alone": median(_took(work) for _ in range(TEXTS))}


def log(folder: Path, basis: Basis, exchanges: Iterable[int]) -> Iterator[tuple[int, dict[str, float]]]:
    for count in exchanges:
        file = folder / f"log-{count}.sqlite"
        pages.fill(file, basis, count)
        crew = Crewed(file, basis).day()
        yield count, of_texts(crew)
        crew.store.close()


def _took(work: Callable[[], object]) -> float:
    begun = time.thread_time()
    work()
    return time.thread_time() - begun


def rows(what: str, found: Iterable[tuple[int, dict[str, float]]]) -> Iterator[Row]:
    """A row a kind of text: what it takes at each size, and the exponent."""
    sizes = list(found)
    for kind in sizes[0][1]:
        took = ", ".join(f"{each[kind] * 1000:.2f} ms at {count:,}" for count, each in sizes)
        (fewer, before), (more, after) = sizes[-2:]
        power = log10(after[kind] / before[kind]) / log10(more / fewer)
        yield Row(f"{what}: {kind}", took, f"exponent {power:.2f}")


def main() -> None:
    command = argparse.ArgumentParser(prog="python tests/bench/growth.py")
    command.add_argument("--exchanges", type=int, nargs="+", default=[10_000, 100_000])
    command.add_argument("--folder", type=Path, help="where the databases are made")
    command.add_argument("--out", type=Path, default=Path("build/bench"))
    args = command.parse_args()
    basis = Basis.load()
    with tempfile.TemporaryDirectory(prefix="trenchword-growth-", dir=args.folder) as made:
        folder = Path(made)
        found = [
            *rows("open trenches of a site", open_trenches(folder, basis)),
            *rows("events of a trench", events(folder, basis)),
            *rows("services across a trench", services(folder, basis)),
            *rows("exchanges on the log", log(folder, basis, args.exchanges)),
        ]
    text = markdown("Cost as work grows", found)
    print(text, f"load {os.getloadavg()}", flush=True)
    args.out.mkdir(parents=True, exist_ok=True)
    (args.out / "growth.md").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
