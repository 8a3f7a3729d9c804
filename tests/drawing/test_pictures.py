"""Pictures sent: each channel's request against the one that a public SDK makes, and the road to a provider.

Peers: python-telegram-bot, twilio and pywa (the WhatsApp Cloud API has no SDK of its own).
"""

import asyncio
import io
import json
import logging
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import parse_qsl

import httpx
import patience
import pytest
import telegram
from aiohttp import ClientSession, web
from aiohttp.test_utils import TestServer
from channel_samples import SETTINGS, channel
from PIL import Image as Picture
from pywa.client import WhatsApp
from shipped import shipped
from twilio.http import HttpClient  # type: ignore[import-untyped]
from twilio.http.response import Response  # type: ignore[import-untyped]
from twilio.rest import Client  # type: ignore[import-untyped]

from bot.channels.base import Channel, Image, all_channels
from bot.clock import MachineClock
from bot.config.people import People
from bot.delivery.outbox import REPLY, QueuedText
from bot.delivery.sending import Sending
from bot.drawing.links import Links
from bot.message import Message, Person, Reply
from bot.service import Service
from bot.storage.turns import Store
from bot.storage.writer import Writer

T = TypeVar("T")
TO = Reply(to="+447700900123", text="T7")
CHAT = Reply(to="telegram:5550100", text="T7 ½")
LINK = "https://trench.example/sketch/abc.png"
PNG = b"\x89PNG\r\n\x1a\n--\r\n\x00\xff not a whole one"
SAM = "+447700900123"
TOLD = "T1 depth 1.6 width 0.9 length 6 soil firm clay ends battered"


class Seen:
    """A server that keeps what was posted to it, as fields, and answers as `answers` says."""

    def __init__(self, *answers: int) -> None:
        self.posts: list[tuple[str, dict[str, Any]]] = []
        self.answers = list(answers)

    async def post(self, request: web.Request) -> web.Response:
        if request.content_type == "application/json":
            fields = await request.json()
        else:
            form = await request.post()
            fields = {
                name: (value.filename, value.content_type, value.file.read())
                if isinstance(value, web.FileField)
                else value
                for name, value in form.items()
            }
        self.posts.append((request.path, fields))
        sent = {"message_id": 5, "date": 0, "chat": {"id": 5550100, "type": "private"}}
        bot = {"id": 5550100, "is_bot": True, "first_name": "Trench", "username": "trench_bot"}
        result = bot if request.path.endswith("/getMe") else sent
        status = self.answers.pop(0) if self.answers else 200
        return web.json_response(
            {"ok": True, "result": result, "messages": [{"id": "wamid.1"}]}, status=status
        )

    def serve(self) -> TestServer:
        app = web.Application(client_max_size=1 << 24)
        app.router.add_post("/{rest:.*}", self.post)
        return TestServer(app)


async def test_telegram_uploads_as_its_library_does() -> None:
    seen = Seen()
    async with seen.serve() as server, ClientSession() as http:
        root = str(server.make_url("")).rstrip("/")
        request = channel("telegram", send_url=root).picture_request(CHAT, Image(PNG))
        assert request is not None
        await http.post(request.url, data=request.body, headers=request.headers)
        bot = telegram.Bot(SETTINGS["telegram"]["token"], base_url=f"{root}/bot")
        async with bot:
            seen.posts = seen.posts[:1]  # without getMe, which it asks first
            await bot.send_photo(5550100, io.BytesIO(PNG), caption=CHAT.text, filename="sketch.png")
    assert seen.posts[0] == seen.posts[1]
    assert seen.posts[0][1]["photo"] == ("sketch.png", "image/png", PNG)


def test_whatsapp_links_as_a_client_does() -> None:
    asked: list[dict[str, Any]] = []

    def answer(request: httpx.Request) -> httpx.Response:
        asked.append(json.loads(request.content))
        who = [{"input": "447700900123", "wa_id": "447700900123"}]
        return httpx.Response(200, json={"contacts": who, "messages": [{"id": "wamid.1"}]})

    client = WhatsApp("5550101", "token", session=httpx.Client(transport=httpx.MockTransport(answer)))
    client.send_image(to="447700900123", image=LINK, caption=TO.text)
    request = channel("whatsapp").picture_request(TO, Image(PNG, LINK))
    assert request is not None
    theirs = {name: value for name, value in asked[-1].items() if name != "recipient_type"}
    assert json.loads(request.body) == theirs


def test_a_form_provider_is_told_where_the_picture_is_as_its_library_does() -> None:
    class Asked(HttpClient):  # type: ignore[misc]
        data: dict[str, Any]

        def __init__(self) -> None:
            super().__init__(logging.getLogger("twilio"), is_async=False)

        def request(self, method: str, uri: str, *args: Any, **more: Any) -> Response:
            self.data = args[1] if len(args) > 1 else more["data"]
            return Response(201, '{"sid": "MM1"}')

    asked = Asked()
    Client("AC1", "token", http_client=asked).messages.create(
        to=TO.to,
        from_="+447700900999",
        body=TO.text,
        media_url=[LINK],
        status_callback="https://trench.example/hook/formhook",
    )
    request = channel("formhook", pictures=True).picture_request(TO, Image(PNG, LINK))
    assert request is not None
    theirs = {name: value[0] if isinstance(value, list) else value for name, value in asked.data.items()}
    assert dict(parse_qsl(request.body.decode())) == theirs


@pytest.mark.parametrize(
    ("name", "changes", "linked", "carries"),
    [
        ("telegram", {}, False, True),
        ("whatsapp", {}, True, True),
        ("whatsapp", {}, False, False),
        ("formhook", {}, True, False),
        ("formhook", {"pictures": True}, True, True),
        ("formhook", {"pictures": True}, False, False),
        ("formhook", {"pictures": True, "send_url": ""}, True, False),
        ("kannel", {}, True, False),
        ("json", {}, True, False),
    ],
)
def test_who_carries_pictures(name: str, changes: dict[str, Any], linked: bool, carries: bool) -> None:
    made = channel(name, **changes)
    assert made.carries_pictures(linked) is carries
    reply = CHAT if name == "telegram" else TO
    assert (made.picture_request(reply, Image(PNG, LINK if linked else "")) is not None) is carries


def test_every_channel_was_asked() -> None:
    assert {"telegram", "whatsapp", "formhook", "kannel", "json"} == set(all_channels())


async def _sent(store: Store, made: Channel, links: Links | None, wanted: dict[str, int]) -> None:
    """Ask for a sketch on a channel, and send until the texts are in the states that are wanted."""
    number = CHAT.to if made.name == "telegram" else SAM
    people = People([Person(number, "Sam", "fitter", "Larch Street")])
    service = Service(store, people, shipped(), MachineClock(), {made.name: made}, links=links)
    writer = Writer(store)

    def submit(work: Callable[[], T]) -> Awaitable[T]:
        return asyncio.wrap_future(writer.submit(work))

    now = datetime.now(UTC)
    for n, text in enumerate((TOLD, "T1 sketch")):
        at = {"sent_at": now, "received_at": now}
        message = Message(id=str(n), channel=made.name, sender=number, text=text, **at)
        await submit(partial(service.answer, message))
    sending = asyncio.create_task(Sending(service.outbox, {made.name: made}, submit, links).run())
    async with asyncio.timeout(patience.SECONDS):
        while await submit(service.outbox.counts) != wanted:
            await asyncio.sleep(0.02)
    sending.cancel()
    await asyncio.gather(sending, return_exceptions=True)
    await asyncio.to_thread(writer.stop)


async def test_the_picture_follows_the_words(tmp_path: Path) -> None:
    seen, store = Seen(), Store(tmp_path / "log.sqlite")
    async with seen.serve() as server:
        made = channel("telegram", send_url=str(server.make_url("")).rstrip("/"))
        await _sent(store, made, None, {"sent": 3})
    (_, sized), (words, said), (picture, shown) = seen.posts
    assert words.endswith("/sendMessage") and picture.endswith("/sendPhoto")
    assert "0.5 m" in said["text"] and "http" not in said["text"]
    assert shown["caption"] == "T1" and shown["chat_id"] == str(sized["chat_id"])
    assert Picture.open(io.BytesIO(shown["photo"][2])).format == "PNG"
    store.close()


async def test_a_provider_gets_a_link_that_opens(tmp_path: Path) -> None:
    seen, store, links = Seen(), Store(tmp_path / "log.sqlite"), Links("https://t.example", ["s" * 16], 1)
    async with seen.serve() as server:
        made = channel("whatsapp", send_url=str(server.make_url("/messages")))
        await _sent(store, made, links, {"sent": 3})
    link = seen.posts[2][1]["image"]["link"]
    token = link.removeprefix("https://t.example/sketch/").removesuffix(".png")
    assert links.exchange(token, datetime.now(UTC)) == 2
    assert "http" not in seen.posts[1][1]["text"]["body"]
    store.close()


async def test_words_go_where_the_picture_cannot(tmp_path: Path) -> None:
    seen, store = Seen(200, 200, 400), Store(tmp_path / "log.sqlite")
    async with seen.serve() as server:
        made = channel("telegram", send_url=str(server.make_url("")).rstrip("/"))
        await _sent(store, made, None, {"sent": 2, "failed": 1})
    assert [path.rpartition("/")[2] for path, _ in seen.posts] == ["sendMessage", "sendMessage", "sendPhoto"]
    store.close()


async def test_a_sketch_that_is_gone_is_not_sent(tmp_path: Path) -> None:
    store = Store(tmp_path / "log.sqlite")
    service = Service(store, People(), shipped(), MachineClock(), {"telegram": channel("telegram")})
    with store.transaction():
        service.outbox.put([QueuedText("9-1", "telegram", CHAT, REPLY, sketch=9)], datetime.now(UTC))
        (going,) = service.outbox.take(datetime.now(UTC))
    assert (going.sketch, going.svg) == (9, None)
    store.close()
