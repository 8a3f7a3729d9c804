"""A country's day: so many crews, each with its own trench, and the busiest hour of it sent as it would come.

    python tests/bench/country.py [--crews 20000] [--minutes 3] [--times 1 4] [--out FOLDER]

The day is made from `days.py`: every crew begins when it begins, in its own language; of twenty days one
has a danger, and of fifty texts one comes twice, as networks bring them. The hour in which most texts come is
sent at its true rate, then further stretches of it at so many times that rate, as if so many more crews were
there; a text that must wait for a connection counts from when it was due. Before that, some crews' morning is
told as fast as it is taken, which shows what the machine holds, and the trenches of all others stand open as
copies of theirs. Texts go in by signed hooks, alerts out to a gateway of this script's own. Let nothing else
run.
"""

import argparse
import asyncio
import json
import os
import random
import sqlite3
import sys
import tempfile
import time
from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import quantiles

from aiohttp import web

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from days import LANGUAGES, Crew, Step, steps  # noqa: E402
from fleet import crew_number, hook  # noqa: E402
from load import at_times, load  # noqa: E402
from servers import ROOT, Server, trenchword  # noqa: E402
from table import Row, markdown  # noqa: E402

SEED = 20261125
DANGERS = 1 / 20  # of a crew's days: more than there are, so that the longest wait is one of many
TWICE = 1 / 50  # of texts
AGAIN_MIN = (0.05, 0.5)  # after which the network brings it again, minutes
BEGINS = (0.0, 100.0, 25.0)  # minutes after seven: first, last, most
CONNECTIONS = 32


@dataclass(frozen=True, order=True)
class Text:
    """One text of the day, `at` minutes after seven; `id` is the same where it comes twice."""

    at: float
    id: str
    crew: Crew
    step: Step

    def request(self) -> tuple[bytes, bytes]:
        return hook(self.id, crew_number(self.crew.site, self.step.who), self.crew.text(self.step))


def day(crews: int) -> list[Text]:
    """Every text of the day in the order in which they come: the same for the same number of crews."""
    chance = random.Random(SEED)
    texts = []
    for site in range(crews):
        crew, begins = Crew.of(site), chance.triangular(*BEGINS)
        for number, (step, minute) in enumerate(steps(chance, DANGERS)):
            text = Text(begins + minute, f"c-{site}-{number}", crew, step)
            texts.append(text)
            if chance.random() < TWICE:
                texts.append(Text(text.at + chance.uniform(*AGAIN_MIN), text.id, crew, step))
    return sorted(texts, key=lambda text: (text.at, text.id))


class Gateway:
    """Takes the texts that the service sends, and notes when."""

    def __init__(self) -> None:
        self.came: dict[str, float] = {}  # the last to each number, by the clock of `time.perf_counter`
        self.count = 0

    async def take(self, request: web.Request) -> web.Response:
        self.came[json.loads(await request.read())["to"]] = time.perf_counter()
        self.count += 1
        return web.json_response({})

    async def start(self) -> tuple[web.AppRunner, str]:
        app = web.Application()
        app.add_routes([web.post("/", self.take)])
        runner = web.AppRunner(app, access_log=None)
        await runner.setup()
        await web.TCPSite(runner, "127.0.0.1", 0).start()
        return runner, f"http://127.0.0.1:{runner.addresses[0][1]}/"


@dataclass(frozen=True)
class Stretch:
    """What one stretch of the busiest hour showed."""

    times: float
    texts: int
    per_second: float
    took_ms: list[float]
    dangers_ms: list[float]
    alerts_ms: list[float]  # until the gateway had the alert of a danger
    computed: float  # share of one core


async def stretch(server: Server, gateway: Gateway, texts: Sequence[Text], times: float) -> Stretch:
    """Send some texts of the day at so many times their rate."""
    first = texts[0].at
    timed = [((text.at - first) * 60 / times, text.request) for text in texts]
    begun, before = time.perf_counter(), server.computed_s()
    took = await at_times(server.port, "/hook/json", timed, CONNECTIONS)
    lasted = time.perf_counter() - begun
    computed = (server.computed_s() - before) / lasted
    await asyncio.sleep(2)  # the last alerts are on their way
    dangers = [n for n, text in enumerate(texts) if text.step.kind == "hazard"]
    told = {n: gateway.came.get(crew_number(texts[n].crew.site, "S")) for n in dangers}
    return Stretch(
        times,
        len(texts),
        len(texts) / lasted,
        [each * 1000 for each in took],
        [took[n] * 1000 for n in dangers],
        [(at - begun - timed[n][0]) * 1000 for n, at in told.items() if at is not None],
        computed,
    )


async def run(args: argparse.Namespace, folder: Path) -> list[Row]:
    texts = day(args.crews)
    hours = Counter(int(text.at // 60) for text in texts)
    busiest, most = hours.most_common(1)[0]
    stretches, at = [], busiest * 60.0
    for times in args.times:
        end = at + args.minutes * times * (1 if times == 1 else 0.25)
        stretches.append((times, [text for text in texts if at <= text.at < end]))
        at = end
    rows = [_shape(args.crews, len(texts), hours, busiest)]
    gateway = Gateway()
    runner, url = await gateway.start()
    file = folder / "country.sqlite"
    try:
        with trenchword(file, args.crews, url, args.root) as server:
            start = server.resident_mb()
            begun: dict[int, float] = {}
            for text in texts:
                begun.setdefault(text.crew.site, text.at)
            played = sorted(begun, key=begun.__getitem__)[:: max(1, args.crews // args.played)]
            known = set(played)
            earlier = [text for text in texts if text.at < busiest * 60 and text.crew.site in known]
            rate, each_ms = await _morning(server, earlier)
            rows.append(_held(len(earlier), rate, each_ms, most, args.crews))
            _others_open(file, begun, played)
            rows.append(await _first_look(server))
            found = [await stretch(server, gateway, some, times) for times, some in stretches]
            rows += [_of(one) for one in found]
            rows.append(
                Row(
                    f"memory, with {2 * args.crews:,} people on the list",
                    f"{start:.0f} MB at start ({server.ready_s:.1f} s), {server.resident_mb():.0f} MB after",
                )
            )
    finally:
        await runner.cleanup()
    taken = len(earlier) + sum(one.texts for one in found)
    rows.append(_disk(file, taken, len(texts), gateway.count))
    return rows


async def _morning(server: Server, texts: Sequence[Text]) -> tuple[float, float]:
    """Texts as fast as they are taken: how many a second, and what the server computes for each, in ms."""
    begun, before = time.perf_counter(), server.computed_s()
    for at in range(0, len(texts), 2_000):  # a signature is good for five minutes
        some = (text.request() for text in texts[at : at + 2_000])
        await load(server.port, "/hook/json", some, CONNECTIONS)
    lasted = time.perf_counter() - begun
    return len(texts) / lasted, (server.computed_s() - before) * 1000 / len(texts)


def _others_open(file: Path, begun: dict[int, float], played: Sequence[int]) -> None:
    """Every other crew stands where one does that texts in its language and began at about the same time."""
    db = sqlite3.connect(file, timeout=60)
    columns = "ref, rulebook, kit, events, open, exchange, number, version"
    trenches = {
        site: (events, (ref, rulebook, kit, *rest))
        for site, ref, rulebook, kit, events, *rest in db.execute(f"SELECT site, {columns} FROM trenches")
    }
    threads = {sender: rest for sender, *rest in db.execute("SELECT sender, state, exchange FROM threads")}
    by_language = {
        language: [
            site for site in played if Crew.of(site).language == language and f"Lane {site}" in trenches
        ]
        for language in set(LANGUAGES)
    }
    with db:
        for site in begun.keys() - set(played):
            like = by_language[Crew.of(site).language]
            at = bisect_left(like, begun[site], key=begun.__getitem__)
            donor = like[min(at, len(like) - 1)]
            names = [(f"{role} {donor}", f"{role} {site}") for role in ("fitter", "supervisor")]
            numbers = [(crew_number(donor, who), crew_number(site, who)) for who in "FS"]
            events, (ref, rulebook, kit, *rest) = trenches[f"Lane {donor}"]
            for old, new in (*names, *numbers):
                events = events.replace(f'"{old}"', f'"{new}"')
            row = (f"Lane {site}", ref, rulebook, kit, events, *rest)
            db.execute(
                f"INSERT OR IGNORE INTO trenches (site, {columns}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", row
            )
            for old, new in numbers:
                if old in threads:
                    state, exchange = threads[old]
                    thread = (new, state.replace(old, new), exchange)
                    db.execute(
                        "INSERT OR IGNORE INTO threads (sender, state, exchange) VALUES (?, ?, ?)", thread
                    )
    db.close()


async def _first_look(server: Server) -> Row:
    """What looking at every open trench for what falls due takes, as after a start; ends with that."""
    begun = server.computed_s()
    last, quiet = begun, 0
    await asyncio.sleep(60)  # the service looks once a minute
    while quiet < 3:
        await asyncio.sleep(1)
        now = server.computed_s()
        quiet = quiet + 1 if now - last < 0.1 else 0
        last = now
    return Row("the first look for what falls due on every site", f"{last - begun:.1f} s computed")


def _shape(crews: int, texts: int, hours: Counter[int], busiest: int) -> Row:
    by_hour = ", ".join(f"{7 + hour:02}: {hours[hour]:,}" for hour in sorted(hours))
    return Row(
        f"the day of {crews:,} crews",
        f"{texts:,} texts, {hours[busiest] / 3600:.1f}/s in the busiest hour",
        f"by the hour {by_hour}",
    )


def _held(earlier: int, rate: float, each_ms: float, most: int, crews: int) -> Row:
    full = rate / (most / 3600) * crews
    return Row(
        f"a morning, {earlier:,} texts as fast as they are taken",
        f"{rate:,.0f}/s, computed {each_ms:.2f} ms each",
        f"so {full:,.0f} crews at their busiest fill the machine, {full / 2:,.0f} half",
    )


def _of(one: Stretch) -> Row:
    took = quantiles(one.took_ms, n=100)
    dangers = f"longest wait of {len(one.dangers_ms)} dangers {max(one.dangers_ms, default=0):.0f} ms"
    alerts = f", of the {len(one.alerts_ms)} alerts {max(one.alerts_ms, default=0):.0f} ms"
    return Row(
        f"busiest hour at {one.times:g} times its rate: {one.texts:,} texts, {one.per_second:.1f}/s",
        f"p50 {took[49]:.1f} ms, p99 {took[98]:.1f} ms, longest {max(one.took_ms):.0f} ms",
        f"{dangers}{alerts if one.dangers_ms else ''}; computed {one.computed:.0%} of a core",
    )


def _disk(file: Path, taken: int, texts: int, sent: int) -> Row:
    db = sqlite3.connect(file)
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (turns,) = db.execute("SELECT count(*) FROM turns").fetchone()
    parts = db.execute(
        "SELECT name, sum(pgsize) FROM dbstat GROUP BY name ORDER BY 2 DESC LIMIT 4"
    ).fetchall()
    db.close()
    each = file.stat().st_size / turns
    largest = ", ".join(f"{name} {size / turns:,.0f}" for name, size in parts)
    return Row(
        f"on the disk: {turns:,} exchanges of {taken:,} texts, {sent:,} sent",
        f"{each:,.0f} bytes each, {each * texts / 1e9:.2f} GB for the day",
        f"of each: {largest}",
    )


def main() -> None:
    command = argparse.ArgumentParser(prog="python tests/bench/country.py")
    command.add_argument("--crews", type=int, default=20_000)
    command.add_argument(
        "--minutes", type=float, default=3.0, help="at the true rate; a quarter of it faster"
    )
    command.add_argument("--times", type=float, nargs="+", default=[1.0, 4.0])
    command.add_argument("--played", type=int, default=500, help="crews whose morning is really told")
    command.add_argument("--root", type=Path, default=ROOT, help="the checkout that is measured")
    command.add_argument("--folder", type=Path, help="where the database is made: on the disk to be measured")
    command.add_argument("--out", type=Path, default=Path("build/bench"))
    args = command.parse_args()
    args.root = args.root.resolve()
    with tempfile.TemporaryDirectory(prefix="trenchword-country-", dir=args.folder) as folder:
        rows = asyncio.run(run(args, Path(folder)))
    text = markdown("A country's day", rows)
    print(text, f"load {os.getloadavg()}", flush=True)
    args.out.mkdir(parents=True, exist_ok=True)
    (args.out / "country.md").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
