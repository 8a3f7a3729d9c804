"""Texts on their way to a provider that fails in every way: a real HTTP server on loopback (practice)."""

import asyncio
import re
import sqlite3
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from typing import TypeVar

import patience
import pytest
from aiohttp import ClientTimeout, web
from aiohttp.test_utils import TestServer
from channel_samples import channel

from bot.channels.base import Channel, Receipt
from bot.delivery.outbox import REPLY, Outbox, QueuedText
from bot.delivery.sending import Sending
from bot.message import Reply
from bot.storage.turns import Store
from bot.storage.writer import Writer

T = TypeVar("T")
SAM = "+447700900123"


class Provider:
    """A gateway that answers each request as the next of `script` says, and then with 202."""

    def __init__(self, *script: str) -> None:
        self.script = list(script)
        self.got: list[str] = []
        self.change: asyncio.Event = asyncio.Event()

    async def post(self, request: web.Request) -> web.Response:
        """One request."""
        self.got.append(await request.text())
        self.change.set()
        does = self.script.pop(0) if self.script else "202"
        if does == "hang up":
            assert request.transport is not None
            request.transport.close()
        if does == "elsewhere":
            return web.Response(status=302, headers={"Location": "/elsewhere"})
        if does == "slow":
            await asyncio.sleep(0.3)
        return web.Response(status=int(does) if does.isdigit() else 202)


class Road:
    """An outbox on a database, and what sends from it."""

    def __init__(self, store: Store, made: Channel, fault_in: Callable[[], None]) -> None:
        self.store = store
        self.writer = Writer(store)
        self.outbox = Outbox(store.db)
        self.fault_in = fault_in
        self.sending = Sending(self.outbox, {"kannel": made}, self.submit)

    def submit(self, work: Callable[[], T]) -> Awaitable[T]:
        """As the shell does it."""

        def job() -> T:
            self.fault_in()
            return work()

        return asyncio.wrap_future(self.writer.submit(job))

    async def put(self, key: str, to: str = SAM) -> None:
        """Let a text wait."""
        text = QueuedText(key, "kannel", Reply(to=to, text=f"text {key}"), REPLY)
        await self.submit(lambda: self.outbox.put([text], datetime.now(UTC)))
        self.sending.wake()

    async def counts(self, **wanted: int) -> None:
        """Return once so many texts are in each state."""
        async with asyncio.timeout(patience.SECONDS):
            while await self.submit(self.outbox.counts) != wanted:
                await asyncio.sleep(0.02)


@asynccontextmanager
async def _road(
    store: Store, provider: Provider, fault_in: Callable[[], None] = lambda: None
) -> AsyncIterator[Road]:
    app = web.Application()
    app.router.add_post("/cgi-bin/sendsms", provider.post)
    app.router.add_post("/elsewhere", provider.post)
    async with TestServer(app) as server:
        made = channel("kannel", send_url=str(server.make_url("/cgi-bin/sendsms")))
        road = Road(store, made, fault_in)
        task = asyncio.create_task(road.sending.run())
        yield road
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        await asyncio.to_thread(road.writer.stop)


@pytest.fixture
def store() -> Iterator[Store]:
    store = Store(":memory:")
    yield store
    store.close()


async def test_a_text_is_sent_once(store: Store) -> None:
    provider = Provider()
    async with _road(store, provider) as road:
        await road.put("1-1")
        await road.counts(sent=1)
        await road.submit(lambda: road.outbox.receive("kannel", Receipt("1-1", True), datetime.now(UTC)))
        await road.counts(delivered=1)
    assert provider.got == ["text 1-1"]


@pytest.mark.parametrize("fault", ["500", "hang up", "elsewhere", "429", "slow"])
async def test_a_text_that_did_not_go_goes_again(
    store: Store, fault: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if fault == "slow":  # answers after 0.3 s, which is too late here; on a busy machine the next may be too
        monkeypatch.setattr("bot.delivery.sending.TIMEOUT", ClientTimeout(total=0.2))
    provider = Provider(fault)
    async with _road(store, provider) as road:
        await road.put("1-1")
        await road.counts(sent=1)
        tries = road.store.db.execute("SELECT number, ok FROM attempts ORDER BY number").fetchall()
    assert set(provider.got) == {"text 1-1"} and len(tries) >= 2
    assert tries == [(n, int(n == len(tries))) for n in range(1, len(tries) + 1)]
    if fault != "slow":
        assert len(provider.got) == len(tries) == 2


async def test_a_refused_text_is_shown_and_no_other_waits_for_it(store: Store) -> None:
    provider = Provider("400")
    async with _road(store, provider) as road:
        await road.put("1-1")
        await road.put("1-2")
        await road.counts(sent=1, failed=1)
        (failed,) = road.outbox.failed()
    assert failed["key"] == "1-1"
    assert provider.got == ["text 1-1", "text 1-2"]


async def test_what_cannot_be_reached_fails_for_good(store: Store) -> None:
    provider = Provider()
    async with _road(store, provider) as road:
        await road.put("1-1", to="telegram:5550100")
        await road.counts(failed=1)
    assert provider.got == []


async def test_stopping_ends_what_is_on_its_way(store: Store) -> None:
    provider = Provider("slow")
    async with _road(store, provider) as road:
        await road.put("1-1")
        await provider.change.wait()
    assert store.db.execute("SELECT state FROM outbox").fetchall() == [("sent",)]


async def test_a_full_disk_loses_no_outcome(store: Store) -> None:
    """The store refuses twice after the request went; its outcome is written down all the same."""
    faults = [False, False, False]
    provider = Provider()

    def full() -> None:
        if provider.got and faults:
            faults.pop()
            raise sqlite3.OperationalError("database or disk is full")

    async with _road(store, provider, full) as road:
        await road.put("1-1")
        await provider.change.wait()
        async with asyncio.timeout(patience.SECONDS):
            while faults:
                await asyncio.sleep(0.05)
        await road.counts(sent=1)
    assert provider.got == ["text 1-1"]


async def test_an_answer_given_twice_is_not_taken_for_that_of_the_next_text(store: Store) -> None:
    """A gateway that answers twice on one connection: the second answer belongs to no text."""
    taken: list[bytes] = []

    async def speak(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            while head := await reader.readuntil(b"\r\n\r\n"):
                length = int(re.findall(rb"(?i)content-length: (\d+)", head)[0])
                taken.append(await reader.readexactly(length))
                accepted = b"HTTP/1.1 202 Accepted\r\nContent-Length: 0\r\n\r\n"
                refused = b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\n\r\n"
                writer.write(accepted + refused)
                await writer.drain()
        except (asyncio.IncompleteReadError, ConnectionError):
            pass
        finally:
            writer.close()

    gateway = await asyncio.start_server(speak, "127.0.0.1", 0)
    port = gateway.sockets[0].getsockname()[1]
    road = Road(store, channel("kannel", send_url=f"http://127.0.0.1:{port}/"), lambda: None)
    task = asyncio.create_task(road.sending.run())
    for n in range(1, 6):
        await road.put(f"{n}-1")
        await road.counts(sent=n)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    await asyncio.to_thread(road.writer.stop)
    gateway.close()
    assert taken == [f"text {n}-1".encode() for n in range(1, 6)]


async def test_many_numbers_are_served_side_by_side(store: Store) -> None:
    provider = Provider(*["slow"] * 60)
    async with _road(store, provider) as road:
        for n in range(60):
            await road.put(f"{n}-1", to=f"+4477009001{n:02}")
        await road.counts(sent=60)
    assert sorted(provider.got) == sorted(f"text {n}-1" for n in range(60))
