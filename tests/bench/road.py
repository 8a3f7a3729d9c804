"""The whole road (signature, reading, sizing, reply, log on the disk) against bare handlers, in turns.

Each round loads our service, the handler that commits a row a request and the one that commits nothing, one
after another, so that what else the machine does meets all three alike. The client is one process beside each
server; on two cores neither waits for the other, and its share of the time is printed. A ratio is that of one
round; the table has the median of the rounds and their spread.
"""

import asyncio
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from statistics import median

from fleet import hooks
from load import Loaded, Request, load
from servers import Server, bare, trenchword
from table import Row

CONNECTIONS = (1, 8, 64)
OURS, ROW, NOTHING = "trenchword", "a row a request", "nothing kept"
REQUESTS = {1: 300, 8: 800, 64: 1600}  # of a round; the bare handlers get more, so that they run as long
MORE = {OURS: 1, ROW: 2, NOTHING: 6}
AIMS = {(64, ROW): "at least 0.8", (64, NOTHING): "at least 0.2"}


@dataclass(frozen=True)
class Round:
    """One load of one server; `computed_ms` is its own time a request, whatever else the machine does."""

    load: Loaded
    computed_ms: float


Rounds = dict[tuple[int, str], list[Round]]


def measure(folder: Path, rounds: int) -> list[Row]:
    """All rounds, and the table."""
    with trenchword(folder / "road.sqlite") as ours, bare(folder / "bare.sqlite") as handlers:
        found = asyncio.run(_rounds(ours, handlers, rounds))
    return list(_rows(found))


async def _rounds(ours: Server, handlers: Server, rounds: int) -> Rounds:
    requests = hooks()
    served = {OURS: (ours, "/hook/json"), ROW: (handlers, "/row"), NOTHING: (handlers, "/nothing")}
    for server, path in served.values():
        await load(server.port, path, _some(requests, 200), 8)  # what is loaded or compiled at first use
    found: Rounds = {(connections, name): [] for connections in CONNECTIONS for name in served}
    for _ in range(rounds):
        for connections, name in found:
            server, path = served[name]
            some = _some(requests, REQUESTS[connections] * MORE[name])
            before = server.computed_s()
            loaded = await load(server.port, path, some, connections)
            computed_ms = (server.computed_s() - before) * 1000 / len(some)
            found[connections, name].append(Round(loaded, computed_ms))
    return found


def _some(requests: Iterator[Request], many: int) -> list[Request]:
    return list(islice(requests, many))


def _rows(found: Rounds) -> Iterator[Row]:
    for connections in CONNECTIONS:
        mine = found[connections, OURS]
        for name in (ROW, NOTHING):
            others = found[connections, name]
            ratios = [a.load.per_second / b.load.per_second for a, b in zip(mine, others, strict=True)]
            yield Row(
                f"whole road, {connections} at once, against a handler with {name}",
                _figures(mine),
                _figures(others),
                median(ratios),
                (min(ratios), max(ratios)),
                AIMS.get((connections, name), "p99 under 10 ms" if connections == 1 else ""),
            )


def _figures(rounds: list[Round]) -> str:
    rate, p50, p99, client = (
        median(getattr(each.load, name) for each in rounds)
        for name in ("per_second", "p50_ms", "p99_ms", "client")
    )
    computed = median(each.computed_ms for each in rounds)
    return (
        f"{rate:,.0f}/s, p50 {p50:.1f} ms, p99 {p99:.1f} ms,"
        f" computed {computed:.2f} ms a request (client {client:.0%})"
    )
