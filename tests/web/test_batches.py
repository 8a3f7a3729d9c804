"""A hook that brings many texts: each is taken by itself, and none keeps another out."""

import hashlib
import hmac
import json
from collections.abc import AsyncIterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from aiohttp import ClientSession, web

from bot.channels.base import Channel
from bot.channels.json import Json
from bot.channels.telegram import Telegram
from bot.channels.whatsapp import Whatsapp
from bot.clock import MachineClock
from bot.commands.serve import PEOPLE
from bot.config.basis import Basis
from bot.config.people import People
from bot.delivery.reminders import Reminders
from bot.delivery.route import Route
from bot.message import Message
from bot.service import Service
from bot.storage.refused import latest
from bot.storage.turns import Answered, Store
from bot.web.app import HOOKS, HookService, application

SAM, STRANGER = "+447700900123", "+447700900999"
NOBODY = "http://127.0.0.1:1"
SECRET = "secret-of-the-provider"
CHANNELS: dict[str, Channel] = {
    "whatsapp": Whatsapp(secrets=SECRET, verify_token="v", token="t", send_url=NOBODY),  # type: ignore[arg-type]
    "telegram": Telegram(secrets=SECRET, token="t", send_url=NOBODY),  # type: ignore[arg-type]
    "json": Json(),
}
DANGER = {
    "id": "danger",
    "from": SAM[1:],
    "timestamp": "1795600000",
    "type": "text",
    "text": {"body": "T1 side slipped"},
}


class Site:
    """A service with every kind of channel, on a port."""

    def __init__(self, url: str, http: ClientSession, store: Store, hooks: HookService) -> None:
        self.url, self.http, self.store, self.hooks = url, http, store, hooks
        self.service = hooks.service

    async def post(self, channel: str, body: bytes, **headers: str) -> int:
        async with self.http.post(f"{self.url}/hook/{channel}", data=body, headers=headers) as response:
            await response.read()
            return response.status

    async def batch(self, messages: Sequence[Any], **more: Any) -> int:
        value = {"messages": messages, **more}
        body = json.dumps({"entry": [{"changes": [{"value": value}]}]}).encode()
        signature = hmac.new(SECRET.encode(), body, hashlib.sha256).hexdigest()
        return await self.post("whatsapp", body, **{"X-Hub-Signature-256": f"sha256={signature}"})

    def texts(self) -> list[str]:
        return [text for (text,) in self.store.db.execute("SELECT text FROM turns ORDER BY exchange")]

    def told(self, number: str) -> list[str]:
        found = self.store.db.execute("SELECT text FROM outbox WHERE recipient = ?", (number,))
        return [text for (text,) in found]


@pytest.fixture
async def site(tmp_path: Path, basis: Basis) -> AsyncIterator[Site]:
    store, people, clock = Store(tmp_path / "log.sqlite"), People.load(PEOPLE), MachineClock()
    service = Service(store, people, basis, clock, CHANNELS)
    reminders = Reminders(store, people, basis, Route(store, CHANNELS))
    app = application(store, service, reminders, clock, CHANNELS)
    runner = web.AppRunner(app)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    async with ClientSession() as http:
        yield Site(f"http://127.0.0.1:{runner.addresses[0][1]}", http, store, app[HOOKS])
    await runner.cleanup()


def stranger(id: str, **more: Any) -> dict[str, Any]:
    return {
        "id": id, "from": STRANGER[1:], "timestamp": "1795600000", "type": "text",
        "text": {"body": "hi"}, **more,
    }  # fmt: skip


OTHERS: dict[str, list[Any]] = {
    "a flood of one stranger's": [stranger(f"s-{n}") for n in range(30)],
    "one that is too long": [stranger("long", text={"body": "x" * 10_001})],
    "one without a time": [{"id": "t", "from": STRANGER[1:], "type": "text", "text": {"body": "hi"}}],
    "a caption of null": [stranger("n", type="image", image={"id": "7", "mime_type": None, "caption": None})],
    "half of an emoji": [stranger("e", text={"body": "hi \ud83d"})],
    "one of no shape": [None, 7, "text", [], {"from": 7}, stranger("k", text=7)],
    "one without a sender": [{"id": "q", "timestamp": "1", "type": "text", "text": {"body": "hi"}}],
    "one of an impossible time": [stranger("y", timestamp="99999999999999999999")],
}


@pytest.mark.parametrize("others", OTHERS.values(), ids=OTHERS)
async def test_danger_beside_what_cannot_be_taken_is_taken(site: Site, others: list[Any]) -> None:
    assert await site.batch([*others, DANGER, *others]) == 200
    assert "T1 side slipped" in site.texts()
    assert site.told(SAM)


async def test_who_was_not_taken_is_told_to_ring_and_the_office_sees_it(site: Site) -> None:
    long = {**DANGER, "id": "long", "text": {"body": "x" * 10_001}}
    assert await site.batch([long, stranger("long", text={"body": "x" * 10_001}), DANGER]) == 200
    assert any("Ring your supervisor" in text for text in site.told(SAM))
    assert site.told(STRANGER) == []
    told = site.told(SAM)
    await site.batch([long])  # the provider brings it once more: they are told once
    assert site.told(SAM) == told
    await site.hooks.keep_refusals()
    (one,) = (each for each in latest(site.store.db, ()) if each.sender == SAM)
    assert one.channel == "whatsapp" and "longer than" in one.why


async def test_statuses_of_no_shape_keep_nothing_out(site: Site) -> None:
    assert await site.batch([DANGER], statuses=[None, {"id": 7}, {"id": "x", "status": "sent"}]) == 200
    assert site.texts() == ["T1 side slipped"]


async def test_an_error_of_ours_with_one_keeps_no_other_out(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = site.service.answer

    def answer(message: Message, *pictures: object) -> Answered:
        if message.sender == STRANGER:
            raise RuntimeError("an error of ours")
        return real(message, *pictures)

    monkeypatch.setattr(site.service, "answer", answer)
    assert await site.batch([stranger("a"), DANGER]) == 200
    assert site.texts() == ["T1 side slipped"]
    assert await site.batch([stranger("b")]) == 503  # alone it is refused, and comes again


@pytest.mark.parametrize("half", [r"\ud83d", r"\ude00"])
async def test_half_of_an_emoji_is_no_reason_to_lose_a_text(site: Site, half: str) -> None:
    plain = f'{{"id": "m", "from": "{SAM}", "text": "T1 side slipped {half}"}}'.encode()
    assert await site.post("json", plain) == 200
    update = '{"update_id": 1, "message": {"chat": {"id": 5, "type": "private"}, "date": 1795600000,'
    update += f' "text": "T2 side slipped {half}"}}' + "}"
    headers = {"X-Telegram-Bot-Api-Secret-Token": SECRET}
    assert await site.post("telegram", update.encode(), **headers) == 200
    assert site.texts() == ["T1 side slipped ?", "T2 side slipped ?"]


async def test_another_text_under_an_id_that_came_before_is_answered_for_itself(site: Site) -> None:
    async def text(said: str) -> dict[str, Any]:
        body = json.dumps({"id": "same", "from": SAM, "text": said}).encode()
        async with site.http.post(f"{site.url}/hook/json", data=body) as response:
            answer: dict[str, Any] = await response.json()
            return answer

    first, second = await text("T1 ladder in"), await text("T1 side slipped")
    assert second["reading"]["hazards"] == ["movement"] and second["exchange"] != first["exchange"]
    assert await text("T1 side slipped") == second and await text("T1 ladder in") == first
    assert len(site.texts()) == 2
