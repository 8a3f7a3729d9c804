"""The hook end to end: a real server on a real port, a real database file."""

import asyncio
import base64
import json
import os
import secrets
from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import patience
import pytest
from aiohttp import ClientSession, web
from prometheus_client.openmetrics.parser import text_string_to_metric_families
from standardwebhooks.webhooks import Webhook

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
from bot.storage.log import LogFilter
from bot.storage.refused import latest
from bot.storage.turns import Store
from bot.web.app import NO_ANSWER, application
from bot.web.rate_limit import RateLimit

SAM, ALEX, STRANGER = "+447700900123", "+447700900124", "+447700900999"
TEXT = "depth 1.6 width 0.9 soil firm clay"
SECRET = "whsec_" + base64.b64encode(os.urandom(32)).decode()


@dataclass
class Server:
    """A running service and how to speak to it."""

    url: str
    http: ClientSession
    store: Store
    file: Path

    async def post(self, data: Any, path: str = "/hook/json", **headers: str) -> tuple[int, dict[str, Any]]:
        body = data if isinstance(data, bytes) else json.dumps(data).encode()
        async with self.http.post(self.url + path, data=body, headers=headers) as response:
            return response.status, await response.json()

    async def text(self, text: str, id: str = "", sender: str = SAM) -> tuple[int, dict[str, Any]]:
        sent_at = datetime.now(UTC).isoformat()
        id = id or secrets.token_hex(4)
        return await self.post({"id": id, "from": sender, "text": text, "sent_at": sent_at})

    def rows(self) -> list[dict[str, Any]]:
        other = log.open_to_read(self.file)
        try:
            return log.page(other, LogFilter())
        finally:
            other.close()


async def started(tmp_path: Path, basis: Basis, channel: Channel) -> AsyncIterator[Server]:
    file = tmp_path / "log.sqlite"
    store = Store(file)
    channels = {channel.name: channel}
    people, clock = People.load(PEOPLE), MachineClock()
    service = Service(store, people, basis, clock, channels)
    reminders = Reminders(store, people, basis, Route(store, channels))
    runner = web.AppRunner(application(store, service, reminders, clock, channels))
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    async with ClientSession() as http:
        yield Server(f"http://127.0.0.1:{runner.addresses[0][1]}", http, store, file)
    await runner.cleanup()


@pytest.fixture
async def server(tmp_path: Path, basis: Basis) -> AsyncIterator[Server]:
    async for running in started(tmp_path, basis, Json()):
        yield running


@pytest.fixture
async def signed(tmp_path: Path, basis: Basis) -> AsyncIterator[Server]:
    async for running in started(tmp_path, basis, Json(secrets=SECRET)):  # type: ignore[arg-type]
        yield running


async def test_a_text_from_the_kerb_gets_a_sized_answer(server: Server) -> None:
    status, answer = await server.text(TEXT)
    assert status == 200
    assert answer["outcome"]["kind"] == "sized"
    # Practice: usually two levels over 1.2 m and to 2.0 m (common practice, no published source).
    assert len(answer["outcome"]["levels"]) == 2
    assert (answer["reading"]["depth_m"], answer["reading"]["width_m"]) == (1.6, 0.9)
    (row,) = server.rows()
    assert (row["exchange"], row["text"], row["reply"]) == (answer["exchange"], TEXT, answer["reply"])
    assert json.loads(row["outcome"]) == answer["outcome"]
    assert json.loads(row["reading"]) == answer["reading"]


async def test_a_repeated_id_gets_the_first_answer_and_changes_nothing(server: Server) -> None:
    first = await server.text(TEXT, "m-1")
    assert await server.text(TEXT, "m-1") == first
    assert len(server.rows()) == 1


async def test_the_same_id_from_somebody_else_is_another_message(server: Server) -> None:
    _, first = await server.text(TEXT, "m-1")
    _, second = await server.text(TEXT, "m-1", ALEX)
    assert first["exchange"] != second["exchange"]


async def test_repeats_that_come_at_once_are_one_exchange(server: Server) -> None:
    answers = await asyncio.gather(*(server.text(TEXT, "m-1") for _ in range(20)))
    assert all(answer == answers[0] for answer in answers)
    assert len(server.rows()) == 1


async def test_the_answer_to_a_question_completes_what_was_said_before(server: Server) -> None:
    _, asked = await server.text("depth 1.6 width 0.9")
    assert asked["outcome"]["kind"] == "ask" and asked["outcome"]["questions"] == ["soil"]
    _, answer = await server.text("firm clay")
    assert answer["outcome"]["kind"] == "sized"


async def test_a_stranger_is_refused_politely_and_logged(server: Server) -> None:
    status, answer = await server.text(TEXT, sender=STRANGER)
    assert (status, answer["outcome"]["kind"]) == (200, "unclear")
    (row,) = server.rows()
    assert (row["sender"], row["text"], row["name"]) == (STRANGER, TEXT, "")


@pytest.mark.parametrize(
    ("data", "status"),
    [
        (b"{", 400),
        (b"[1, 2]", 400),
        (b"\xff\xfe", 400),
        ({"id": "1", "from": SAM}, 422),
        ({"id": 1, "from": SAM, "text": TEXT}, 422),
        ({"id": "1", "from": SAM, "text": 1.6}, 422),
        ({"id": "1", "from": SAM, "text": "   "}, 422),
        ({"id": "1", "from": "Sam", "text": TEXT}, 422),
        ({"id": "1", "from": SAM, "text": TEXT, "sent_at": "yesterday"}, 422),
        ({"id": "1", "from": SAM, "text": "clay " * 3000}, 413),
        (b" " * 300_000, 413),
    ],
)
async def test_what_cannot_be_taken_is_refused_with_its_reason(
    server: Server, data: Any, status: int
) -> None:
    got, answer = await server.post(data)
    assert got == status and answer["error"]
    assert server.rows() == []


@pytest.mark.parametrize("coding", ["gzip", "deflate"])
async def test_a_body_that_is_not_in_the_coding_it_names_is_refused(server: Server, coding: str) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", int(server.url.rpartition(":")[2]))
    head = f"POST /hook/json HTTP/1.1\r\nHost: x\r\nContent-Encoding: {coding}\r\nContent-Length: 2\r\n\r\n"
    writer.write(head.encode() + b"{}")
    assert (await reader.readline()).split()[1] == b"400"
    writer.close()


async def test_a_client_that_never_ends_its_body_is_let_go(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.web.app.BODY_TIMEOUT_S", 0.2)
    reader, writer = await asyncio.open_connection("127.0.0.1", int(server.url.rpartition(":")[2]))
    writer.write(b"POST /hook/json HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 200\r\n\r\n{")
    assert (await reader.readline()).split()[1] == b"408"
    writer.close()


async def test_no_answer_tells_which_versions_run(server: Server) -> None:
    for path in ("/health", "/hook/json", "/hook/pigeon", "/nowhere"):
        async with server.http.get(server.url + path) as response:
            assert "Server" not in response.headers
            assert response.headers["X-Content-Type-Options"] == "nosniff"


def samples(text: str) -> dict[str, float]:
    """Each count by its name and labels, as the format's own parser reads them."""
    families = text_string_to_metric_families(text)
    return {s.name + json.dumps(s.labels, sort_keys=True): s.value for f in families for s in f.samples}


async def test_metrics_are_counts_in_the_openmetrics_text_format(server: Server) -> None:
    await server.text(TEXT)
    await server.post(b"{")
    async with asyncio.timeout(patience.SECONDS):
        while True:
            async with server.http.get(server.url + "/metrics") as response:
                text = await response.text()
            counts = samples(text)
            if not counts["trenchword_waiting{}"]:
                break  # the turn is answered a moment before it is counted as begun
    # OpenMetrics 1.0: content type, "_total" of a counter, "# EOF" at the end.
    assert response.headers["Content-Type"].startswith("application/openmetrics-text; version=1.0.0")
    assert counts['trenchword_hooks_total{"channel": "json", "status": "200"}'] == 1
    assert counts['trenchword_hooks_total{"channel": "json", "status": "400"}'] == 1
    assert text.endswith("# EOF\n")


async def test_health_and_a_channel_that_is_not_there(server: Server) -> None:
    async with server.http.get(server.url + "/health") as response:
        assert (response.status, (await response.json())["ok"]) == (200, True)
    assert (await server.post({}, "/hook/pigeon"))[0] == 404


def signature(body: bytes, at: datetime, secret: str = SECRET) -> dict[str, str]:
    return {
        "webhook-id": "m-1",
        "webhook-timestamp": str(int(at.timestamp())),
        "webhook-signature": Webhook(secret).sign("m-1", at, body.decode()),
    }


async def test_only_what_is_signed_now_and_whole_is_taken(signed: Server) -> None:
    # Signed by the public library of the Standard Webhooks scheme.
    body = json.dumps({"id": "m-1", "from": SAM, "text": TEXT}).encode()
    now = datetime.now(UTC)
    other = "whsec_" + base64.b64encode(os.urandom(32)).decode()
    refused = [
        await signed.post(body),
        await signed.post(body.replace(b"1.6", b"1.2"), **signature(body, now)),
        await signed.post(body, **signature(body, now - timedelta(minutes=10))),
        await signed.post(body, **signature(body, now + timedelta(minutes=10))),
        await signed.post(body, **signature(body, now, other)),
    ]
    assert [status for status, _ in refused] == [401] * 5
    assert signed.rows() == []
    status, answer = await signed.post(body, **signature(body, now))
    assert (status, answer["exchange"]) == (200, 1)


async def test_a_log_that_cannot_be_written_answers_nothing_and_says_ring(server: Server) -> None:
    pages = server.store.db.execute("PRAGMA page_count").fetchone()[0]
    server.store.db.execute(f"PRAGMA max_page_count = {pages}")
    long = TEXT + " and" * 2000
    status, answer = await server.text(long, "m-1")
    assert (status, answer) == (503, {"error": NO_ANSWER})
    server.store.db.execute(f"PRAGMA max_page_count = {pages + 1000}")
    status, _ = await server.text(long, "m-1")
    assert (status, len(server.rows())) == (200, 1)


async def test_a_flood_is_told_to_ring_and_the_office_can_see_it(tmp_path: Path, basis: Basis) -> None:
    kannel = Kannel(secrets="key")  # type: ignore[arg-type]
    async for server in started(tmp_path, basis, kannel):
        told = []
        for n in range(30):
            query = {"key": "key", "id": str(n), "from": SAM, "text": "T1 ladder in"}
            async with server.http.get(server.url + "/hook/kannel", params=query) as response:
                told.append(await response.text())
        async with server.http.get(server.url + "/metrics") as response:
            counts = samples(await response.text())
    refused = told.count(NO_ANSWER)
    assert told[-1] == NO_ANSWER and 5 <= refused <= 10
    assert counts['trenchword_refused_total{"channel": "kannel"}'] == refused
    again = Store(tmp_path / "log.sqlite")
    assert [(each.sender, each.times) for each in latest(again.db, ())] == [(SAM, refused)]
    again.close()


async def test_many_phones_cannot_flood_a_channel(
    tmp_path: Path, basis: Basis, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.web.app.PER_CHANNEL", RateLimit(burst=10, per_minute=1))
    async for server in started(tmp_path, basis, Kannel(secrets="key")):  # type: ignore[arg-type]
        told = []
        for n in range(12):
            query = {"key": "key", "id": "1", "from": f"+4477009002{n:02}", "text": "T1 ladder in"}
            async with server.http.get(server.url + "/hook/kannel", params=query) as response:
                told.append(await response.text())
    assert [text == NO_ANSWER for text in told] == [False] * 10 + [True] * 2


@pytest.mark.parametrize(
    "headers",
    [
        {"X-Forwarded-For": "203.0.113.9"},  # through a proxy
        {"Forwarded": "for=203.0.113.9"},
        {"X-Real-IP": "203.0.113.9"},
        {"X-Forwarded-Proto": "https"},
        {"X-Forwarded-Host": "localhost"},
        {"True-Client-IP": "203.0.113.9"},
        {"CF-Connecting-IP": "203.0.113.9"},
        {"Sec-Fetch-Site": "cross-site"},  # a page in a browser of this machine
        {"Referer": "https://elsewhere.example/"},
        {"Host": "trench.example"},  # a proxy that hands the name on, or a name pointed at this machine
        {"Host": "[::1"},
        {"Origin": "http://203.0.113.9"},  # a web page open on this machine
    ],
)
async def test_unsigned_texts_are_taken_from_this_machine_only(
    server: Server, headers: dict[str, str]
) -> None:
    message = {"id": "1", "from": ALEX, "text": "allow T1 0000"}
    assert (await server.post(message, **headers))[0] == 401
    assert server.rows() == []


async def test_texts_of_one_sender_are_answered_in_order(server: Server) -> None:
    texts = [f"T{n} depth 1.{n} width 0.9 soil firm clay" for n in range(10)]
    sent = [asyncio.ensure_future(server.text(text)) for text in texts]
    await asyncio.gather(*sent)
    rows = server.rows()
    assert sorted(row["text"] for row in rows) == texts
    assert [row["exchange"] for row in rows] == list(range(10, 0, -1))
