"""What the service takes of a machine: time to be ready, memory, room on the disk; and the office's pages."""

import asyncio
import sqlite3
import subprocess
import sys
import time
from itertools import islice
from pathlib import Path
from statistics import median

import pages
from fleet import hooks
from load import load
from servers import Server, trenchword
from table import Row

STARTS = 5
TEXTS = 400


def measure(folder: Path, exchanges: list[int]) -> list[Row]:
    """Page by page at every length of the log, then the service on the longest."""
    found = asyncio.run(pages.main(folder, exchanges))
    rows = [
        Row(
            f"office page: {name}",
            f"{each[-1]:.1f} ms at {exchanges[-1]:,} exchanges",
            ", ".join(f"{ms:.1f} ms at {n:,}" for n, ms in zip(exchanges[:-1], each[:-1], strict=True)),
            each[-1] / each[0],
        )
        for name, each in found.items()
    ]
    return [*rows, *_service(folder, exchanges[-1])]


def _service(folder: Path, exchanges: int) -> list[Row]:
    file = folder / f"{exchanges}.sqlite"
    ready = []
    for _ in range(STARTS):
        with trenchword(file) as server:
            ready.append(server.ready_s)
    with trenchword(file) as server:
        fresh = server.resident_mb()
        asyncio.run(_texts(server, TEXTS))
        used = server.resident_mb()
    return [
        Row(
            f"from its start until it answers, at {exchanges:,} exchanges",
            f"{median(ready):.2f} s ({min(ready):.2f} to {max(ready):.2f})",
            f"Python alone {_python_s():.2f} s",
            aim="under 1 s",
        ),
        Row(
            f"resident memory at {exchanges:,} exchanges",
            f"{fresh:.0f} MB at start, {used:.0f} MB after {TEXTS} texts",
            aim="under 120 MB",
        ),
        Row(
            "an exchange on the disk, with its indexes",
            f"{file.stat().st_size / exchanges:,.0f} bytes of the demo's talk,"
            f" {_sized_bytes(folder):,.0f} of a sizing",
        ),
    ]


async def _texts(server: Server, many: int) -> None:
    await load(server.port, "/hook/json", list(islice(hooks(), many)), 8)


def _python_s() -> float:
    begun = time.perf_counter()
    subprocess.run([sys.executable, "-c", ""], check=True)
    return time.perf_counter() - begun


def _sized_bytes(folder: Path) -> float:
    """Bytes on the disk of an exchange whose answer is sized."""
    file = folder / "sized.sqlite"
    with trenchword(file) as server:
        asyncio.run(_texts(server, 2 * TEXTS))
    db = sqlite3.connect(file)
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (turns,) = db.execute("SELECT count(*) FROM turns").fetchone()
    db.close()
    return file.stat().st_size / int(turns)
