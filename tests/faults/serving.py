"""The whole service as a process that can be killed and is back in a moment, and phones that text it.

A server that has loaded everything is forked for each start, so that a thousand restarts take minutes.
"""

import asyncio
import multiprocessing
import os
import time
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path

import patience
from aiohttp import ClientError, ClientSession, ClientTimeout, web

import bot.web.app
from bot.channels.base import Channel
from bot.channels.json import Json
from bot.channels.kannel import Kannel
from bot.clock import MachineClock
from bot.commands.serve import PEOPLE
from bot.config.basis import Basis
from bot.config.people import People
from bot.delivery.reminders import Reminders
from bot.delivery.route import Route
from bot.service import Service
from bot.storage import log
from bot.storage.turns import Store
from bot.storage.writer import Writer, _Job

BASIS = Basis.load()
SAM = "+447700900123"
NOWHERE = "http://127.0.0.1:1/sendsms"  # nobody listens there: replies stay in the outbox
CHANNELS: dict[str, Channel] = {
    "json": Json(),
    "kannel": Kannel(secrets="key", send_url=NOWHERE, repeat_s=0),  # type: ignore[arg-type]
}


class Hasty(Writer):
    """Answers before the turn is on the disk: wrong on purpose, to show that a test would see it."""

    def _commit(self, batch: list[_Job]) -> None:
        with self._store.transaction():
            for job in batch:
                job.done.set_result(job.work())
            time.sleep(0.05)


def _serve(
    file: Path, synchronous: str, hasty: bool, channels: Mapping[str, Channel], ready: Connection
) -> None:
    async def run() -> None:
        store = Store(file)
        store.db.execute(f"PRAGMA synchronous = {synchronous}")
        people, clock = People.load(PEOPLE), MachineClock()
        service = Service(store, people, BASIS, clock, channels)
        reminders = Reminders(store, people, BASIS, Route(store, channels))
        runner = web.AppRunner(bot.web.app.application(store, service, reminders, clock, channels))
        await runner.setup()
        await web.TCPSite(runner, "127.0.0.1", 0).start()
        ready.send(runner.addresses[0][1])
        await asyncio.Event().wait()

    if hasty:
        bot.web.app.Writer = Hasty  # type: ignore[misc]
    # What the service says of faults is expected here; the tests look at what it does.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    asyncio.run(run())


def _forks() -> multiprocessing.context.ForkServerContext:
    here = Path(__file__).parent
    os.environ["PYTHONPATH"] = os.pathsep.join(map(str, (here, here.parent / "support", here.parents[1])))
    forks = multiprocessing.get_context("forkserver")
    forks.set_forkserver_preload([__name__])
    return forks


class Serving:
    """One run of the service on a file."""

    def __init__(
        self,
        file: Path,
        synchronous: str = "FULL",
        hasty: bool = False,
        channels: Mapping[str, Channel] = CHANNELS,
    ) -> None:
        forks = _forks()
        ours, theirs = forks.Pipe()
        self._process = forks.Process(
            target=_serve, args=(file, synchronous, hasty, channels, theirs), daemon=True
        )
        self._process.start()
        theirs.close()
        assert ours.poll(60), "the service did not start"
        self.url = f"http://127.0.0.1:{ours.recv()}"
        ours.close()

    @property
    def pid(self) -> int:
        assert self._process.pid
        return self._process.pid

    def kill(self) -> None:
        """kill -9."""
        self._process.kill()
        self._process.join()


@dataclass
class Told:
    """What the phones sent, and what they were told, by id."""

    sent: dict[str, str] = field(default_factory=dict)  # id to text
    acked: dict[str, bytes] = field(default_factory=dict)  # id to the answer's body
    refused: set[str] = field(default_factory=set)  # answered with 503

    @property
    def open(self) -> set[str]:
        """What was sent and never answered with 200."""
        return set(self.sent) - set(self.acked)


class Phones:
    """Sends texts by two channels: every other one through the gateway, whose replies go by the outbox."""

    def __init__(self, http: ClientSession, url: str, told: Told) -> None:
        self._http, self._url, self._told = http, url, told

    async def text(self, id: str, said: str) -> int | None:
        """Send a text: the status of the answer, None where there was none."""
        self._told.sent[id] = said
        try:
            if id.startswith("kannel"):
                sender = f"+44770090{int(id.rpartition('-')[2]) % 10_000:04}"  # no phone texts too often
                query = {"key": "key", "id": id, "from": sender, "text": said}
                request = self._http.get(f"{self._url}/hook/kannel", params=query)
            else:
                data = {"id": id, "from": SAM, "text": said}
                request = self._http.post(f"{self._url}/hook/json", json=data)
            async with request as response:
                body = await response.read()
        except (ClientError, OSError, TimeoutError):
            return None
        if response.status == 200 and b"No answer." not in body:
            before = self._told.acked.setdefault(id, body)
            assert before == body, f"{id} was answered twice, and differently"
            return 200
        self._told.refused.add(id)
        return 503

    async def health(self) -> bool:
        """Whether the service says that it is there."""
        async with self._http.get(
            f"{self._url}/health", timeout=ClientTimeout(total=patience.SECONDS)
        ) as response:
            return response.status == 200

    async def burst(self, name: str, phones: int = 8) -> None:
        """Text from several phones at once until nobody answers any more."""

        async def one(phone: int) -> None:
            n = 0
            channel = ("json", "kannel")[phone % 2]
            while True:
                n += 1
                id = f"{channel}-{name}-{n * phones + phone}"
                said = f"T{n % 50} depth {1 + n % 900 / 1000:.3f} width 0.9 soil firm clay"
                if await self.text(id, said) is None:
                    return

        await asyncio.gather(*(one(phone) for phone in range(phones)))


@asynccontextmanager
async def phones(serving: Serving, told: Told) -> AsyncIterator[Phones]:
    """Phones for one run of the service."""
    async with ClientSession(timeout=ClientTimeout(total=patience.SECONDS)) as http:
        yield Phones(http, serving.url, told)


def check(file: Path, told: Told) -> int:
    """The log holds every answered text once and as it was answered, nothing that was never sent, and is
    whole. Returns how many answered texts are missing, for tests that expect some."""
    db = log.open_to_read(file)
    try:
        rows: dict[str, tuple[int, str]] = {}
        for id, exchange, reply in db.execute("SELECT message_id, exchange, reply FROM turns"):
            assert id in told.sent, f"{id} was never sent"
            assert id not in rows, f"{id} is there twice"
            rows[id] = (exchange, reply)
        chain = log.verify(db)
        assert chain.broken_at is None, chain.why
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        # A turn and its texts are one transaction.
        replies = db.execute("SELECT key FROM outbox").fetchall()
        by_gateway = {f"{rows[id][0]}-1" for id in rows if id.startswith("kannel")}
        assert by_gateway <= {key for (key,) in replies}
        written = {str(exchange) for exchange, _ in rows.values()}  # alerts go with their turn as well
        assert {key.partition("-")[0] for (key,) in replies} <= written
    finally:
        db.close()
    for id in set(told.acked) & set(rows):
        if id.startswith("json"):
            assert told.acked[id].startswith(f'{{"exchange":{rows[id][0]},'.encode())
    return len(set(told.acked) - set(rows))
