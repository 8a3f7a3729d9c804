"""Callers who do not end their headers, and what a flood of them leaves behind."""

import asyncio
import logging
from contextlib import suppress
from pathlib import Path

import patience
import pytest
from aiohttp import web

from bot.web.app import application
from bot.web.jsonlog import FewAlike
from bot.web.slow_headers import watch


async def listening(app: web.Application) -> tuple[web.AppRunner, int]:
    runner = web.AppRunner(app)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    return runner, runner.addresses[0][1]


async def slow(_: web.Request) -> web.Response:
    await asyncio.sleep(0.5)
    return web.Response(text="answered")


@pytest.mark.parametrize("begun", [b"", b"POST /hook/json HTTP/1.1\r\nHost: x\r\nX-A: ", b"GET /hea"])
async def test_half_a_call_is_let_go(begun: bytes) -> None:
    app = web.Application()
    app.router.add_get("/", slow)
    runner, port = await listening(app)
    assert runner.server is not None
    watching = asyncio.create_task(watch(runner.server, limit_s=0.2, every_s=0.05))
    held = [await asyncio.open_connection("127.0.0.1", port) for _ in range(20)]
    for _, writer in held:
        writer.write(begun)
    async with asyncio.timeout(patience.SECONDS):
        for reader, _ in held:
            with suppress(ConnectionError):
                assert await reader.read() == b""  # ended by the server
    watching.cancel()
    for _, writer in held:
        writer.close()
    await runner.cleanup()


async def test_a_call_that_is_being_answered_is_not_let_go() -> None:
    app = web.Application()
    app.router.add_get("/", slow)
    runner, port = await listening(app)
    assert runner.server is not None
    watching = asyncio.create_task(watch(runner.server, limit_s=0.1, every_s=0.02))
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
    async with asyncio.timeout(patience.SECONDS):
        assert (await reader.read()).endswith(b"answered")
    watching.cancel()
    writer.close()
    await runner.cleanup()


async def test_what_is_no_http_is_not_told_which_versions_run() -> None:
    assert application
    runner, port = await listening(web.Application())
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(b"no http at all\r\n\r\n")
    async with asyncio.timeout(patience.SECONDS):
        answer = await reader.read()
    assert (
        answer.startswith(b"HTTP/1.") and b"aiohttp" not in answer.lower() and b"python" not in answer.lower()
    )
    writer.close()
    await runner.cleanup()


def record(at: float, text: str = "socket.accept() out of system resource") -> logging.LogRecord:
    made = logging.LogRecord("asyncio", logging.ERROR, "", 0, text, (), None)
    made.created = at
    return made


def test_a_line_that_comes_again_and_again_is_written_a_few_times() -> None:
    few = FewAlike(most=3, per_s=60)
    written = [few.filter(record(at / 100)) for at in range(1000)]
    assert sum(written) == 3
    last = record(61)
    assert few.filter(last) and last.getMessage().endswith("(997 more like it)")
    assert few.filter(record(61, "another line"))
    assert few.filter(record(0.5))  # after the clock was set back


def test_kinds_of_lines_are_not_counted_without_end() -> None:
    few = FewAlike()
    for n in range(5000):
        few.filter(record(1.0, f"{n} of many"))
    assert len(few._seen) <= 1000


def test_the_unit_gives_the_service_files_enough() -> None:
    unit = (Path(__file__).parents[2] / "bot/deploy/trenchword.service").read_text()
    assert "\nLimitNOFILE=16384\n" in unit
