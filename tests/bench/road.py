"""The whole road (signature, reading, sizing, reply, log on the disk) against bare handlers, in turns.

Each round loads our service, the handler that commits a row a request and the one that commits nothing, one
after another, so that what else the machine does meets all alike; so it does another checkout of the service
(`--beside`). The client is one process beside each server; on two cores neither waits for the other, and its
share of the time is printed. A ratio is that of one round; the table has the median of the rounds and their
spread.

Two roads: sizings alone, and the days of crews. Of a day every crew texts the same step at once, so that what
the server computes can be told by kind.
"""

import asyncio
from collections import defaultdict
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from statistics import fmean, median, quantiles

import days
from days import Crew, Kind
from fleet import crew_number, hook, hooks
from load import Loaded, Request, load
from servers import CREWS, Server, bare, trenchword
from table import Row

CONNECTIONS = (1, 8, 64)
OURS, BEFORE, ROW, NOTHING = "trenchword", "trenchword beside", "a row a request", "nothing kept"
REQUESTS = {1: 300, 8: 800, 64: 1600}  # of a round; the bare handlers get more, so that they run as long
MORE = {OURS: 1, BEFORE: 1, ROW: 2, NOTHING: 6}
AIMS = {(64, ROW): "at least 0.3"}
PLAYED = {1: 10, 64: 96}  # crews whose day is played in a round, by connections
DAY_AIMS: dict[Kind, str] = {
    "sizing": "at most 2.5 ms",
    "report": "at most 1.2 ms",
    "entry": "at most 1.2 ms",
    "other": "",
}
ANSWERED: dict[Kind, tuple[str, ...]] = {
    "sizing": ("sized",),
    "report": ("noted",),
    "entry": ("entry",),
    "other": ("told", "noted"),
}


@dataclass(frozen=True)
class Round:
    """One load of one server; `computed_ms` is its own time a request, whatever else the machine does."""

    load: Loaded
    computed_ms: float


Rounds = dict[tuple[int, str], list[Round]]


@dataclass(frozen=True)
class DayRound:
    """One day of some crews: of each kind, what each request took and what the server computed for it."""

    took_ms: dict[Kind, list[float]]
    computed_ms: dict[Kind, float]
    per_second: float


Days = dict[tuple[int, str], list[DayRound]]


def measure(folder: Path, rounds: int, beside: Path | None = None) -> list[Row]:
    """All rounds, and the table."""
    with ExitStack() as stack:
        ours = {OURS: stack.enter_context(trenchword(folder / "road.sqlite"))}
        if beside:
            ours[BEFORE] = stack.enter_context(trenchword(folder / "beside.sqlite", root=beside.resolve()))
        handlers = stack.enter_context(bare(folder / "bare.sqlite"))
        found, played = asyncio.run(_rounds(ours, handlers, rounds))
    return [*_rows(found), *_day_rows(played, found)]


async def _rounds(ours: dict[str, Server], handlers: Server, rounds: int) -> tuple[Rounds, Days]:
    requests = hooks()
    served = {name: (server, "/hook/json") for name, server in ours.items()}
    served |= {ROW: (handlers, "/row"), NOTHING: (handlers, "/nothing")}
    for server, path in served.values():
        await load(server.port, path, _some(requests, 200), 8)  # what is loaded or compiled at first use
    found: Rounds = {(connections, name): [] for connections in CONNECTIONS for name in served}
    played: Days = {(connections, name): [] for connections in PLAYED for name in ours}
    crews = (Crew.of(at % CREWS, 1 + at // CREWS) for at in range(10**9))
    for _ in range(rounds):
        for connections, name in found:
            server, path = served[name]
            some = _some(requests, REQUESTS[connections] * MORE[name])
            before = server.computed_s()
            loaded = await load(server.port, path, some, connections)
            computed_ms = (server.computed_s() - before) * 1000 / len(some)
            if name in ours and loaded.kinds["sized"] != len(some):
                raise RuntimeError(f"of {len(some)} texts that tell a trench whole: {loaded.kinds}")
            found[connections, name].append(Round(loaded, computed_ms))
        for connections, many in PLAYED.items():
            some_crews = list(islice(crews, many))
            for name, server in ours.items():
                played[connections, name].append(await _day(server, some_crews, connections))
    return found, played


async def _day(server: Server, crews: list[Crew], connections: int) -> DayRound:
    """The day of some crews, step by step. Raises RuntimeError where a text is not answered by its kind."""
    took: dict[Kind, list[float]] = defaultdict(list)
    computed: dict[Kind, float] = defaultdict(float)
    lasted = 0.0
    for at, step in enumerate(days.DAY):
        texts = [
            hook(f"day-{crew.site}-{crew.ref}-{at}", crew_number(crew.site, step.who), crew.text(step))
            for crew in crews
        ]
        before = server.computed_s()
        loaded = await load(server.port, "/hook/json", texts, connections)
        computed[step.kind] += server.computed_s() - before
        took[step.kind] += loaded.took_ms
        lasted += len(texts) / loaded.per_second
        if set(loaded.kinds) - set(ANSWERED[step.kind]):
            raise RuntimeError(f"{step.kind}: {step.says['en']}: {loaded.kinds}")
    each = {kind: computed[kind] * 1000 / len(took[kind]) for kind in took}
    return DayRound(dict(took), each, len(crews) * len(days.DAY) / lasted)


def _some(requests: Iterator[Request], many: int) -> list[Request]:
    return list(islice(requests, many))


def _rows(found: Rounds) -> Iterator[Row]:
    for connections in CONNECTIONS:
        mine = found[connections, OURS]
        for name in (ROW, NOTHING, BEFORE):
            if not (others := found.get((connections, name))):
                continue
            ratios = [a.load.per_second / b.load.per_second for a, b in zip(mine, others, strict=True)]
            yield Row(
                f"sizings alone, {connections} at once, against {name}",
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


def _day_rows(played: Days, found: Rounds) -> Iterator[Row]:
    """Of a crew's day, each kind by what the server computed for it; then the day whole."""
    for connections in PLAYED:
        mine, others = played[connections, OURS], played.get((connections, BEFORE), [])
        for kind in days.KINDS:
            pairs = zip(mine, others, strict=True) if others else ()
            ratios = [a.computed_ms[kind] / b.computed_ms[kind] for a, b in pairs]
            yield Row(
                f"day, {connections} at once: {kind}",
                _of_kind(mine, kind),
                _of_kind(others, kind) if others else "",
                median(ratios) if ratios else None,
                (min(ratios), max(ratios)) if ratios else None,
                DAY_AIMS[kind],
            )
        handler = found[connections, ROW]
        ratios = [a.per_second / b.load.per_second for a, b in zip(mine, handler, strict=True)]
        yield Row(
            f"day, {connections} at once, whole, against {ROW}",
            f"{median(each.per_second for each in mine):,.0f}/s"
            + (f" (beside: {median(each.per_second for each in others):,.0f}/s)" if others else ""),
            f"{median(each.load.per_second for each in handler):,.0f}/s",
            median(ratios),
            (min(ratios), max(ratios)),
            AIMS.get((connections, ROW), ""),
        )


def _of_kind(rounds: list[DayRound], kind: Kind) -> str:
    took = quantiles([ms for each in rounds for ms in each.took_ms[kind]], n=100)
    computed = fmean(each.computed_ms[kind] for each in rounds)
    return f"computed {computed:.2f} ms, p50 {took[49]:.1f} ms, p99 {took[98]:.1f} ms"
