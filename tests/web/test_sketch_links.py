"""Links to sketches, and the pictures behind them: a real server, a real file, PNGs decoded by Pillow.

RFC 2104 section 5 (R1): a truncated HMAC keeps at least half of the hash, and 80 bits.
"""

import base64
import io
import json
import re
import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from aiohttp import ClientSession, web
from PIL import Image

from bot.channels import segments
from bot.channels.json import Json
from bot.clock import MachineClock
from bot.config.basis import Basis
from bot.config.people import People
from bot.delivery.reminders import Reminders
from bot.delivery.route import Route
from bot.demo.seed import PEOPLE
from bot.drawing.links import Expired, Links
from bot.drawing.png import WIDE, NotDrawn, png
from bot.erasure import erase_before, erase_person
from bot.service import Service
from bot.storage.turns import Store
from bot.web.app import application
from bot.web.rate_limit import PER_LINKS

SAM = "+447700900123"
PUBLIC = "https://trench.example"
SECRET, OLD = "a secret of the tests", "an older secret of them"
AT = datetime(2026, 11, 25, 8, tzinfo=UTC)
TOLD = "T1 depth 1.6 width 0.9 length 6 soil firm clay ends battered"
LINK = re.compile(re.escape(PUBLIC) + r"/sketch/([A-Za-z0-9_-]{40})(?= |$)")


@dataclass
class Running:
    """A running service, and how to text it and to open a link."""

    url: str
    http: ClientSession
    store: Store

    async def text(self, text: str, id: str = "") -> str:
        sent = {"id": id or secrets.token_hex(4), "from": SAM, "text": text}
        async with self.http.post(self.url + "/hook/json", data=json.dumps(sent)) as response:
            assert response.status == 200
            return str((await response.json())["reply"])

    async def sketch(self) -> str:
        """The token of a fresh link."""
        await self.text(TOLD)
        found = LINK.search(await self.text("T1 sketch"))
        assert found
        return found[1]

    async def open(self, token: str) -> tuple[int, bytes, Any]:
        async with self.http.get(f"{self.url}/sketch/{token}") as response:
            return response.status, await response.read(), response.headers


@asynccontextmanager
async def running(file: Path, basis: Basis, links: Links | None) -> AsyncIterator[Running]:
    store, people, clock, channels = Store(file), People.load(PEOPLE), MachineClock(), {"json": Json()}
    service = Service(store, people, basis, clock, channels, links=links)
    reminders = Reminders(store, people, basis, Route(store, channels))
    runner = web.AppRunner(application(store, service, reminders, clock, channels))
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    async with ClientSession() as http:
        yield Running(f"http://127.0.0.1:{runner.addresses[0][1]}", http, store)
    await runner.cleanup()


@pytest.fixture
async def service(tmp_path: Path, basis: Basis) -> AsyncIterator[Running]:
    async with running(tmp_path / "log.sqlite", basis, Links(PUBLIC, [SECRET], 12)) as made:
        yield made


async def test_a_sketch_is_answered_with_words_and_a_link(service: Running) -> None:
    await service.text(TOLD)
    reply = await service.text("T1 sketch", id="s-1")
    assert "0.5 m" in reply and LINK.search(reply)
    assert segments.count(reply).parts <= 3
    # A repeat has the same answer, with the same link.
    assert await service.text("T1 sketch", id="s-1") == reply


async def test_the_words_give_way_to_the_link_in_a_long_trench(service: Running) -> None:
    await service.text(TOLD.replace("length 6", "length 24 m"))
    reply = await service.text("T1 sketch")
    assert LINK.search(reply) and segments.count(reply).parts <= 3


async def test_without_an_address_there_are_only_words(tmp_path: Path, basis: Basis) -> None:
    async with running(tmp_path / "log.sqlite", basis, None) as service:
        await service.text(TOLD)
        assert "http" not in await service.text("T1 sketch")
        assert (await service.open("A" * 40))[0] == 404
        assert service.store.db.table("sketches").count == 0


async def test_whoever_has_the_link_sees_the_trench_and_nobody(service: Running) -> None:
    status, body, headers = await service.open(await service.sketch())
    page = body.decode()
    assert status == 200 and "<svg" in page and "T1, as reported by" in page
    assert "Level 2: struts" in page  # told to those who cannot see it
    assert not any(each in page for each in (SAM, "Sam", "Larch", "Demo Town"))
    assert headers["X-Robots-Tag"] == "noindex, nofollow" and headers["Cache-Control"] == "no-store"
    assert headers["Referrer-Policy"] == "no-referrer" and headers["X-Content-Type-Options"] == "nosniff"
    policy = headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'") and "unsafe" not in policy and "style=" not in page


async def test_it_shows_what_was_told_then_and_says_that_more_was_told_since(service: Running) -> None:
    token = await service.sketch()
    _, before, _ = await service.open(token)
    await service.text("T1 dug to 1.2")
    _, after, _ = await service.open(token)
    assert b"More was reported about T1" not in before and b"More was reported about T1" in after
    drawn = re.compile(rb"<svg.*</svg>", re.S)
    assert drawn.findall(before) == drawn.findall(after) and b"dug 1.2 m" not in after


async def test_the_picture_is_a_png_with_letters_on_it(service: Running) -> None:
    status, body, headers = await service.open(await service.sketch() + ".png")
    assert (status, headers["Content-Type"]) == (200, "image/png")
    picture = Image.open(io.BytesIO(body))
    assert (picture.format, picture.width) == ("PNG", WIDE)
    # Telegram's sendPhoto: width and height 10,000 together, one at most 20 times the other (M-H).
    assert picture.width + picture.height <= 10_000 and picture.height <= 20 * picture.width
    assert len(body) < 5 * 1024 * 1024  # WhatsApp Cloud API, images (M-H)


def test_letters_are_drawn_where_the_machine_has_none() -> None:
    def dark(text: str) -> list[int]:
        svg = (
            '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 40" font-family="system-ui, sans-serif"'
            f' font-size="30"><text x="4" y="30">{text}</text></svg>'
        )
        pixels = Image.open(io.BytesIO(png(svg))).convert("L")
        return [sum(pixels.crop((x, 0, x + 54, pixels.height)).histogram()[:128]) for x in range(0, 324, 54)]

    words, other, none = dark("T7 ąłñ×"), dark("T8 ąłñ×"), dark(" ")
    assert sum(none) == 0 and sum(words) > 1000
    assert words[0] == other[0] != 0 and words != other
    # A letter that the font has not comes out as one and the same box.
    assert len({tuple(dark(letter)) for letter in "ąłñ×śț"}) > 4


def test_what_is_no_drawing_makes_no_picture() -> None:
    with pytest.raises(NotDrawn):
        png("no drawing at all")


async def test_a_link_that_is_changed_anywhere_opens_nothing(service: Running) -> None:
    token = await service.sketch()
    links = Links(PUBLIC, [SECRET], 12)
    now = datetime.now(UTC)
    assert links.exchange(token, now) == 2
    for place, sign in enumerate(token):
        other = "A" if sign != "A" else "B"
        assert links.exchange(token[:place] + other + token[place + 1 :], now) is None
    for wrong in ("", "A", token[:-1], token + "A", token + "=", " " + token, "é" * 40, token.lower()):
        assert links.exchange(wrong, now) is None
    for wrong in (token[:-1], token[1:] + "A", "A" * 40, "%00" * 40):
        for end in ("", ".png"):
            status, body, headers = await service.open(wrong + end)
            assert status == 404 and b"Broken link" in body and b"<svg" not in body
            assert headers["X-Robots-Tag"] == "noindex, nofollow"


def test_a_signature_keeps_enough_of_its_hash() -> None:
    token = Links(PUBLIC, [SECRET], 12).to(1, AT).rpartition("/")[2]
    assert len(base64.urlsafe_b64decode(token)) - 12 >= 16


def test_links_end_and_secrets_can_be_changed() -> None:
    old = Links(PUBLIC, [OLD], 12).to(7, AT).rpartition("/")[2]
    both = Links(PUBLIC + "/", [SECRET, OLD], 1)
    assert both.exchange(old, AT + timedelta(hours=12)) == 7
    with pytest.raises(Expired):
        both.exchange(old, AT + timedelta(hours=12, seconds=1))
    assert Links(PUBLIC, [SECRET], 12).exchange(old, AT) is None
    assert both.to(7, AT).startswith(PUBLIC + "/sketch/")
    assert Links(PUBLIC, [SECRET], 12).exchange(both.to(7, AT).rpartition("/")[2], AT) == 7


async def test_a_link_that_ended_and_a_sketch_that_is_gone_say_so(service: Running) -> None:
    token = await service.sketch()
    ended = Links(PUBLIC, [SECRET], 12).to(2, datetime.now(UTC) - timedelta(hours=13)).rpartition("/")[2]
    for end in ("", ".png"):
        status, body, _ = await service.open(ended + end)
        assert status == 410 and b"Link expired" in body
    with service.store.transaction():
        service.store.db.execute("DELETE FROM sketches")
    status, body, _ = await service.open(token)
    assert status == 410 and b"not kept any more" in body


async def test_erasing_takes_the_sketches_too(service: Running) -> None:
    await service.sketch()
    with service.store.transaction():
        erase_before(service.store.db, AT - timedelta(days=3650))
        assert service.store.db.table("sketches").count == 1
        erase_person(service.store.db, SAM)
    assert service.store.db.table("sketches").count == 0


async def test_many_who_open_links_are_held_to_a_limit(service: Running) -> None:
    answers = [(await service.open("A" * 40))[0] for _ in range(2 * PER_LINKS.burst)]
    assert answers[: PER_LINKS.burst] == [404] * PER_LINKS.burst and 429 in answers
