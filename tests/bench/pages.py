"""How long each page of the office takes at many exchanges against few, in one run.

    python tests/bench/pages.py [EXCHANGES ...]     # 10,000 and 1,000,000 where nothing is said

The log is made from the demo's own exchanges: the same seed makes the same log, and its chain verifies.
"""

import asyncio
import logging
import random
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import AsyncExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from office_visit import Office, running

from bot.config.basis import Basis
from bot.config.people import People
from bot.demo.seed import PEOPLE, seed
from bot.storage.turns import COVERED, SPOKEN, Store, body_of, hash_of, moment

SEED = 20261125
ROUNDS = 15
OPEN = 300  # trenches of a company that watches over many sites
LAST = datetime(2026, 11, 25, 8, tzinfo=UTC)
SITES, SENDERS = 40, 200
RARE = "quicklime"  # a word of a hundred exchanges, however long the log: the page it fills is the same
COLUMNS = (*SPOKEN, *COVERED, "salt", "hash")
INSERT = f"INSERT INTO turns ({', '.join(COLUMNS)}) VALUES ({', '.join(':' + name for name in COLUMNS)})"


def fill(file: Path, basis: Basis, exchanges: int) -> None:
    """Play the demo, then go on from its exchanges until there are so many."""
    store = Store(file)
    seed(store, People.load(PEOPLE), basis, LAST)
    patterns = list(store.db.query("SELECT * FROM turns ORDER BY exchange"))
    # The machine may stop while it is made, and indexes this large want to be in memory.
    store.db.execute("PRAGMA synchronous = OFF")
    store.db.execute("PRAGMA cache_size = -1500000")
    with store.transaction():
        store.db.conn.executemany(INSERT, generated(patterns, exchanges))
        closed = next(store.db.query("SELECT * FROM trenches LIMIT 1")) | {"open": 0}
        numbers = range(len(patterns) + 25, exchanges, 25)
        store.db.table("trenches").insert_all(
            closed | {"site": f"Street {n % SITES}", "ref": f"T{n // 25}", "exchange": n} for n in numbers
        )
    store.close()


def generated(patterns: list[dict[str, Any]], exchanges: int) -> Iterator[dict[str, Any]]:
    """Rows that follow the patterns' last, a minute and a half apart on average."""
    chance = random.Random(SEED)
    previous = patterns[-1]["hash"]
    begin = LAST - timedelta(seconds=90 * exchanges)
    for n in range(len(patterns) + 1, exchanges + 1):
        at = moment(begin + timedelta(seconds=90 * n + chance.randrange(600)))
        person, site = chance.randrange(SENDERS), chance.randrange(SITES)
        row = dict(chance.choice(patterns))
        row |= {
            "exchange": n,
            "message_id": f"b-{n}",
            "sender": f"+4477009{person:05}",
            "name": f"Fitter {person}",
            "site": f"Street {site}",
            "trench": f"T{n // 25}",
            "rulebook": "us" if site == 0 else "uk",
            "text": f"{row['text']} {RARE if n % (exchanges // 100) == 1 else chance.randrange(1000)}",
            "salt": f"{chance.getrandbits(128):032x}",
            "previous": previous,
        }
        row |= dict.fromkeys(("sent_at", "received_at", "answered_at"), at)
        row["body"] = body_of(row)
        row["hash"] = previous = hash_of(row)
        yield row


def pages(exchanges: int) -> dict[str, str]:
    """The pages as the office opens them."""
    middle = exchanges // 2
    day = (LAST - timedelta(seconds=90 * middle)).date()
    return {
        "today": "/office/",
        "log, newest": "/office/log",
        "log, from the middle": f"/office/log?before={middle}",
        "log, rare word": f"/office/log?text={RARE}",
        "log, frequent word": "/office/log?text=clay",
        "log, two words and a kind": "/office/log?text=firm+clay&kind=sized",
        "log, word and a rare kind": "/office/log?text=clay&kind=failed",
        "log, word and sender": "/office/log?text=clay&sender=%2B447700900007",
        "log, rare word and sender": f"/office/log?text={RARE}&sender=%2B447700900007",
        "log, word and a day": f"/office/log?text=clay&since={day}&until={day}",
        "log, one trench": f"/office/log?trench=T{middle // 25}",
        "log, one sender": "/office/log?sender=%2B447700900007",
        "log, one site": "/office/log?site=Street+7",
        "log, one kind": "/office/log?kind=stop",
        "log, rulebook": "/office/log?rulebook=us",
        "log, one day": f"/office/log?since={day}&until={day}",
        "log, day and kind": f"/office/log?since={day}&until={day}&kind=sized",
        "exchange": f"/office/exchange/{middle}",
        "trench": "/office/trench/Larch%20Street/T1",
        "trench file": "/office/trench/Larch%20Street/T1/file",
        "trenches": "/office/trenches",
        "reports": "/office/reports",
        "kit list": "/office/reports/kit",
        "week": f"/office/reports/week?week={day}",
        "kept": "/office/set-up",
    }


async def times(offices: list[tuple[Office, int]]) -> dict[str, list[float]]:
    """Ask for every page in turns, and print the medians. Returns them in milliseconds."""
    heads = "".join(f"{exchanges:>12,}" for _, exchanges in offices)
    print(f"{'page':28}{heads}   ratio   (median of {ROUNDS}, ms)")
    found = {}
    for name in pages(1):
        took: list[list[float]] = [[] for _ in offices]
        for _ in range(ROUNDS):
            for (office, exchanges), kept in zip(offices, took, strict=True):
                begin = time.perf_counter()
                await office.page(pages(exchanges)[name])
                kept.append((time.perf_counter() - begin) * 1000)
        each = found[name] = [median(kept) for kept in took]
        print(f"{name:28}{''.join(f'{ms:12.1f}' for ms in each)}{each[-1] / each[0]:8.2f}", flush=True)
    return found


def crowd(file: Path, basis: Basis) -> None:
    """The demo's log with so many open trenches: its own again and again, under other names."""
    store = Store(file)
    seed(store, People.load(PEOPLE), basis, datetime.now(UTC))
    with store.transaction():
        found = list(store.db.query("SELECT * FROM trenches WHERE open = 1"))
        table = store.db.table("trenches")
        table.insert_all(
            found[n % len(found)] | {"ref": f"T{1000 + n}", "number": 1000 + n}
            for n in range(OPEN - len(found))
        )
    store.close()


async def crowded(folder: Path, basis: Basis) -> None:
    """Print how long the first page takes with many open trenches: the first time, and then."""
    logging.getLogger("trenchword.sending").setLevel(logging.ERROR)  # no channel here can send
    file = folder / "crowd.sqlite"
    crowd(file, basis)
    async with running(file, basis) as office:
        await office.sign_in()
        took = []
        for _ in range(ROUNDS + 1):
            begin = time.perf_counter()
            page = await office.page("/office/")
            took.append((time.perf_counter() - begin) * 1000)
            assert page.count("/office/trench/") >= OPEN
    print(f"today at {OPEN} open trenches: {took[0]:.0f} ms at first, then {median(took[1:]):.0f} ms")


def sizes(file: Path) -> None:
    """Print what each table and index takes."""
    with sqlite3.connect(file) as db:
        found = db.execute(
            "SELECT name, sum(pgsize) / 1e6 FROM dbstat GROUP BY name ORDER BY 2 DESC LIMIT 12"
        )
        print("\n".join(f"{name:34}{size:10.1f} MB" for name, size in found))


async def main(folder: Path, wanted: list[int]) -> dict[str, list[float]]:
    """Fill a log of each length in `folder`, unless it is there, and ask for the pages of all."""
    basis = Basis.load()
    async with AsyncExitStack() as stack:
        offices = []
        for exchanges in wanted:
            file = folder / f"{exchanges}.sqlite"
            if not file.exists():
                begin = time.perf_counter()
                fill(file, basis, exchanges)
                took, size = time.perf_counter() - begin, file.stat().st_size / 1e6
                print(f"{exchanges:,} exchanges made in {took:.0f} s, {size:.0f} MB", flush=True)
            office = await stack.enter_async_context(running(file, basis))
            await office.sign_in()
            offices.append((office, exchanges))
        found = await times(offices)
    await crowded(folder, basis)
    sizes(file)
    return found


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="trenchword-bench-") as made:
        asyncio.run(main(Path(made), [int(each) for each in sys.argv[1:]] or [10_000, 1_000_000]))
