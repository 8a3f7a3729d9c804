"""Pictures from texts to the record, over real hooks, a real provider on loopback and a real database."""

import asyncio
import base64
import hashlib
import json
import logging
import re
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import patience
import photographs
import pytest
from channel_samples import SETTINGS, channel, sample, signed
from office_visit import SAM, Office, running
from photographs import Provider

from bot.__main__ import main
from bot.channels.base import Channel, Hook, Picture
from bot.config.basis import Basis
from bot.demo.phones import sending_to
from bot.drawing.photograph import Photograph
from bot.erasure import erase_person
from bot.message import Message
from bot.storage import log, pictures
from bot.storage.pictures import KeptPicture
from bot.storage.turns import Store

Out = pytest.CaptureFixture[str]
TELEGRAM = "telegram:5550100"
CREW = """
[[site]]
name = "Larch Street"
[[person]]
number = "+447700900123"
name = "Sam"
role = "fitter"
site = "Larch Street"
[[person]]
number = "telegram:5550100"
name = "Lee"
role = "fitter"
site = "Larch Street"
[[person]]
number = "+447700900124"
name = "Alex"
role = "supervisor"
site = "Larch Street"
"""


def channels_at(url: str) -> dict[str, Channel]:
    """Every channel that brings pictures, its provider at `url`."""
    made = {
        "telegram": channel("telegram", send_url=url),
        "whatsapp": channel("whatsapp", send_url=f"{url}/v23.0/5550101/messages"),
        "formhook": channel("formhook", send_url=f"{url}/Messages.json"),
        "json": sending_to(f"{url}/out"),
    }
    return dict(made)


class Crew:
    """A running service, the provider behind its channels, and texts with pictures."""

    def __init__(self, office: Office, provider: Provider) -> None:
        self.office, self.provider = office, provider

    async def hook(self, name: str, hook: Hook) -> None:
        """Post a hook as its provider does, signed."""
        headers = dict(signed(name, hook).headers)
        async with self.office.http.post(
            f"{self.office.url}/hook/{name}", data=hook.body, headers=headers
        ) as response:
            assert response.status == 200, await response.text()

    async def json(self, text: str, *urls: str, id: str = "1", sender: str = SAM) -> dict[str, Any]:
        body = {"id": id, "from": sender, "text": text, "pictures": urls}
        async with self.office.http.post(self.office.url + "/hook/json", data=json.dumps(body)) as response:
            answer: dict[str, Any] = await response.json()
            return answer

    def pictures(self, exchange: int = 1) -> list[KeptPicture]:
        db = self.office.db
        try:
            return pictures.of_exchange(db, exchange)
        finally:
            db.close()

    async def ended(self, exchange: int = 1, count: int = 1) -> list[KeptPicture]:
        """The pictures of an exchange, once it is known what becomes of each."""
        async with asyncio.timeout(patience.SECONDS):
            while True:
                found = self.pictures(exchange)
                if len(found) == count and not any(each.waits for each in found):
                    return found
                await asyncio.sleep(0.02)


@pytest.fixture
def crew_file(tmp_path: Path) -> Path:
    file = tmp_path / "people.toml"
    file.write_text(CREW)
    return file


@asynccontextmanager
async def serving(
    file: Path, basis: Basis, crew_file: Path, provider: Provider, keep: bool = True
) -> AsyncIterator[Crew]:
    made = channels_at(provider.url)
    async with running(
        file, basis, channels=made, crew=crew_file, **({"keep_pictures": True} if keep else {})
    ) as office:
        yield Crew(office, provider)


@pytest.fixture
async def crew(tmp_path: Path, basis: Basis, crew_file: Path) -> AsyncIterator[Crew]:
    async with AsyncExitStack() as stack:
        provider = await stack.enter_async_context(Provider().there())
        yield await stack.enter_async_context(serving(tmp_path / "log.sqlite", basis, crew_file, provider))


def pieces_in(whole: bytes, jpeg: bytes) -> list[bytes]:
    """The pieces of a picture that stand in a file: it is cut up there over several pages."""
    pieces = [jpeg[at : at + 100] for at in range(0, len(jpeg) - 100, 100)]
    return [piece for piece in pieces if piece in whole]


def with_place(hook: Hook, url: str) -> Hook:
    """The form provider's hook, its picture at `url`."""
    place = url.replace(":", "%3A").replace("/", "%2F")
    return replace(hook, body=hook.body.replace(b"https%3A%2F%2Fapi.example%2FMedia%2FME01", place.encode()))


HOOKS: dict[str, Callable[[str], Hook]] = {
    "telegram": lambda url: sample("telegram", "picture"),
    "whatsapp": lambda url: sample("whatsapp", "batch"),
    "formhook": lambda url: with_place(sample("formhook", "picture"), f"{url}/Media/ME01"),
}
_TIME = re.compile(r"\d\d:\d\d(:[\d.]+Z)?")
BASIC = "Basic " + base64.b64encode(b"account:not-a-real-password").decode()
ASKED: Mapping[str, list[tuple[str, str]]] = {
    "telegram": [
        ("/bot5550100:not-a-real-token/getFile?file_id=large", ""),
        ("/file/bot5550100:not-a-real-token/photos/file_1.jpg", ""),
    ],
    "whatsapp": [
        ("/v23.0/media-1", "Bearer not-a-real-token"),
        ("/attachments/?mid=1", "Bearer not-a-real-token"),
    ],
    "formhook": [("/Media/ME01", BASIC)],
}


@pytest.mark.parametrize("name", HOOKS)
async def test_a_picture_is_fetched_made_anew_and_kept(crew: Crew, name: str) -> None:
    await crew.hook(name, HOOKS[name](crew.provider.url))
    exchange = 2 if name == "whatsapp" else 1  # the first of that batch is words alone
    (kept,) = await crew.ended(exchange)
    assert (kept.why, kept.wide, kept.high, kept.picture) == ("", 640, 480, 1)
    assert crew.provider.asked == ASKED[name]
    jpeg = pictures.jpeg(crew.office.db, 1)
    assert jpeg and jpeg.startswith(b"\xff\xd8") and not any(words in jpeg for words in photographs.HIDDEN)
    whole = crew.office.file.read_bytes() + Path(f"{crew.office.file}-wal").read_bytes()
    assert pieces_in(whole, jpeg) and not any(words in whole for words in photographs.HIDDEN)


async def test_several_come_with_one_text_by_their_order(crew: Crew) -> None:
    urls = [f"{crew.provider.url}/{n}" for n in range(3)]
    await crew.json("T7 ladder in", *urls)
    assert [each.number for each in await crew.ended(count=3)] == [1, 2, 3]
    assert {path for path, _ in crew.provider.asked} >= {"/0", "/1", "/2"}


@pytest.mark.parametrize("text", ["", "T7 ladder in", "T7 depth 1.6 width 0.9 firm clay", "T7 side slipped"])
async def test_a_picture_changes_nothing_in_what_is_answered(
    crew: Crew, tmp_path: Path, basis: Basis, crew_file: Path, text: str
) -> None:
    """With the setting and without it: the same answer."""
    kept = await crew.json(text, f"{crew.provider.url}/1")
    await crew.ended()
    crew.provider.asked.clear()
    async with serving(tmp_path / "off.sqlite", basis, crew_file, crew.provider, keep=False) as off:
        passed_over = await off.json(text, f"{crew.provider.url}/1")
        for name in ("reply", "outcome", "reading"):
            said, wanted = (_TIME.sub("", json.dumps(each[name])) for each in (passed_over, kept))
            assert said == wanted
        assert off.pictures() == [] and off.office.db.execute("SELECT * FROM pictures_due").fetchall() == []
    assert not any(path == "/1" for path, _ in crew.provider.asked)


@pytest.mark.parametrize(("file", "why"), photographs.BAD.values(), ids=photographs.BAD)
async def test_what_is_not_kept_is_said_on_the_exchange(crew: Crew, file: bytes, why: str) -> None:
    crew.provider.file = file
    assert (await crew.json("T7 ladder in", f"{crew.provider.url}/1"))["reply"]
    (ended,) = await crew.ended()
    assert why in ended.why and ended.wide is None
    await crew.office.sign_in()
    page = await crew.office.page("/office/exchange/1")
    assert f"not kept: {ended.why}" in page and "<img" not in page


@pytest.mark.parametrize(
    ("name", "script", "why"),
    [
        ("telegram", ["404"], "the provider answered 404"),
        ("telegram", ["200", "404"], "the provider answered 404"),
        ("whatsapp", ["401"], "the provider answered 401"),
        ("whatsapp", ["302"], "the provider answered 302, 5 times"),  # a redirect of it is not followed
        ("formhook", ["404"], "the provider answered 404"),
        ("formhook", ["307", "404"], "the provider answered 404"),
        ("formhook", ["307", "307"], "the provider answered 307, 5 times"),
        ("telegram", ["503"], "the provider answered 503, 5 times"),
        ("formhook", ["hang up"], "the provider could not be reached (ServerDisconnectedError), 5 times"),
    ],
)
async def test_a_provider_that_fails_is_asked_again_and_then_said_so(
    crew: Crew, monkeypatch: pytest.MonkeyPatch, name: str, script: list[str], why: str
) -> None:
    monkeypatch.setattr(pictures, "WAITS_S", (0, 0, 0, 0))
    crew.provider.script = script * 12
    await crew.hook(name, HOOKS[name](crew.provider.url))
    (ended,) = await crew.ended(2 if name == "whatsapp" else 1)
    assert ended.why == why


async def test_a_provider_that_is_back_hands_it_out(crew: Crew, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "WAITS_S", (0, 0, 0, 0))
    crew.provider.script = ["503", "hang up", "429", "200"]
    await crew.json("T7 ladder in", f"{crew.provider.url}/1")
    (ended,) = await crew.ended()
    assert (ended.why, ended.wide, len(crew.provider.asked)) == ("", 640, 4)


async def test_what_never_ends_is_left_at_its_bound(crew: Crew) -> None:
    await crew.json("T7 ladder in", f"{crew.provider.url}/endless")
    (ended,) = await crew.ended()
    assert ended.why == "it is larger than 12 MB"


@pytest.mark.parametrize(
    "place",
    [
        "http://127.0.0.1:1/1",
        "http://169.254.169.254/latest",
        "https://elsewhere.example/1",
        "http://PROVIDER@elsewhere.example/1",
        "http://someone@PROVIDER/1",
        "http://[/1",
        "http:///1",
        "http://PROVIDER.elsewhere.example/1",
    ],
)
async def test_nobody_who_texts_sends_us_anywhere_else(crew: Crew, place: str) -> None:
    url = place.replace("PROVIDER", crew.provider.url.removeprefix("http://"))
    await crew.json("T7 ladder in", url)
    (ended,) = await crew.ended()
    assert "host that is not set up" in ended.why and crew.provider.asked == []


async def test_a_place_that_leads_elsewhere_gets_no_password(crew: Crew) -> None:
    crew.provider.script = ["302", "200"]
    await crew.hook("formhook", HOOKS["formhook"](crew.provider.url))
    (ended,) = await crew.ended()
    # Where it leads is the same host here: followed once, without the password.
    assert (ended.why, crew.provider.asked) == ("", [("/Media/ME01", BASIC), ("/moved", "")])


def test_hosts_are_named_whole_and_by_https() -> None:
    made = channel("formhook", picture_hosts="media.example cdn.example")
    assert made.fetches_from("https://api.example/Media/1") and made.fetches_from("https://cdn.example/1?a=b")
    for url in (
        "http://cdn.example/1",
        "https://cdn.example:8443/1",
        "https://a.cdn.example/1",
        "https://cdn.example.net/1",
        "https://cdn.example@elsewhere.example/1",
        "https://x:y@cdn.example/1",
        "ftp://cdn.example/1",
        "file:///etc/passwd",
        "",
    ):
        assert not made.fetches_from(url), url
    assert not channel("formhook", send_url="").fetches_from("")


async def test_what_is_no_picture_is_not_asked_for(crew: Crew) -> None:
    hook = HOOKS["formhook"](crew.provider.url)
    await crew.hook("formhook", replace(hook, body=hook.body.replace(b"image%2Fjpeg", b"video%2Fmp4")))
    (ended,) = await crew.ended()
    assert (ended.why, crew.provider.asked) == ("it is no picture but video/mp4", [])


@pytest.mark.parametrize("kind", ["image/jpeg", "application/pdf"])
async def test_a_picture_that_is_sent_as_a_file_is_one(crew: Crew, kind: str) -> None:
    file = {"file_id": "file", "mime_type": kind}
    said = {"chat": {"id": 5550100, "type": "private"}, "date": 1795594200, "document": file}
    hook = replace(sample("telegram", "picture"), body=json.dumps({"update_id": 1, "message": said}).encode())
    await crew.hook("telegram", hook)
    if kind == "image/jpeg":
        assert (await crew.ended())[0].wide == 640
    media = {"id": "media-1", "mime_type": kind, "caption": "gauge"}
    text = {
        "id": "wamid.1",
        "from": SAM[1:],
        "timestamp": "1795594200",
        "type": "document",
        "document": media,
    }
    batch = {"entry": [{"changes": [{"value": {"messages": [text]}}]}]}
    await crew.hook("whatsapp", replace(sample("whatsapp", "batch"), body=json.dumps(batch).encode()))
    if kind == "image/jpeg":
        assert (await crew.ended(2))[0].wide == 640
    else:
        assert crew.pictures(1) + crew.pictures(2) == []


async def test_of_a_stranger_nothing_is_asked_for(crew: Crew) -> None:
    await crew.json("T7 ladder in", f"{crew.provider.url}/1", sender="+447700900999")
    await crew.json("T7 ladder in", f"{crew.provider.url}/2", id="2")
    await crew.ended(2)
    assert crew.pictures(1) == [] and [path for path, _ in crew.provider.asked] == ["/2"]


async def test_a_hook_that_comes_again_brings_no_second_picture(crew: Crew) -> None:
    for _ in range(3):
        await crew.hook("telegram", HOOKS["telegram"](""))
    await crew.ended()
    assert (len(crew.pictures(1)), len(crew.provider.asked)) == (1, 2)


async def test_one_phone_does_not_fill_the_disk(crew: Crew, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "MOST_A_DAY", 3)
    for n in (1, 2):
        await crew.json("T7 ladder in", *(f"{crew.provider.url}/{n}{k}" for k in range(2)), id=str(n))
    assert [each.why for each in await crew.ended(1, 2)] == ["", ""]
    assert [each.why for each in await crew.ended(2, 2)] == ["", "more than 3 of one sender in a day"]


async def test_what_was_not_fetched_is_fetched_at_the_next_start(
    tmp_path: Path, basis: Basis, crew_file: Path
) -> None:
    file = tmp_path / "log.sqlite"
    async with Provider().there() as provider:
        provider.script = ["503"] * 9
        async with serving(file, basis, crew_file, provider) as crew:
            await crew.json("T7 ladder in", f"{provider.url}/1")
            await crew.office.sign_in()
            assert "Picture 1 not fetched yet" in " ".join(
                (await crew.office.page("/office/exchange/1")).replace('<bdi class="said">', "").split()
            )
        provider.script = []
        store = Store(file)  # its next try is due
        with store.transaction():
            store.db.execute("UPDATE pictures_due SET due_at = '2026-01-01T00:00:00.000000Z'")
        store.close()
        async with serving(file, basis, crew_file, provider) as crew:
            assert [each.wide for each in await crew.ended()] == [640]


async def test_no_secret_and_no_place_gets_into_the_log(
    crew: Crew, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG, logger="trenchword")
    monkeypatch.setattr(pictures, "WAITS_S", (0, 0, 0, 0))
    for at, (name, hook) in enumerate(HOOKS.items()):
        crew.provider.script = ["hang up", "503", "404"]
        await crew.hook(name, hook(crew.provider.url))
        await crew.ended((1, 3, 5)[at])  # of a batch the picture is in the second text
    secrets = [each for made in SETTINGS.values() for each in (*made["secrets"], made.get("token")) if each]
    shown = caplog.text + json.dumps([each.told for n in range(1, 6) for each in crew.pictures(n)])
    assert "picture not kept" in shown
    assert not any(secret in shown for secret in (*secrets, "not-a-real-password", "Media/ME01"))


async def test_a_picture_that_is_changed_taken_out_or_put_in_is_found(
    crew: Crew, tmp_path: Path, capsys: Out
) -> None:
    await crew.json("T7 ladder in", f"{crew.provider.url}/1")
    await crew.ended()
    crew.provider.file = photographs.BAD["HEIC"][0]
    await crew.json("T7 ladder out", f"{crew.provider.url}/2", id="2")
    await crew.ended(2)
    copy = tmp_path / "copy.sqlite"
    await asyncio.to_thread(main, ["backup", str(copy), "--db", str(crew.office.file)])
    assert pictures.jpeg(log.open_to_read(copy), 1) == pictures.jpeg(crew.office.db, 1)  # a copy has them
    assert main(["log", "verify", "--db", str(copy)]) == 0
    assert "Whole: 2 pictures, 0 erased." in capsys.readouterr().out
    assert main(["log", "show", "1", "--db", str(copy)]) == 0
    assert "picture 1: 640 x 480 pixels" in capsys.readouterr().out
    others = photographs.file_of("PNG")
    for statement, values, why in (
        ("UPDATE pictures SET jpeg = ? WHERE picture = 1", (others,), "what was saved was changed"),
        ("UPDATE pictures SET exchange = 9 WHERE picture = 1", (), "what stands beside it was changed"),
        ("UPDATE pictures SET why = '' WHERE picture = 2", (), "what stands beside it was changed"),
        ("UPDATE pictures SET sender = '+1' WHERE picture = 1", (), "what was saved was changed"),
        ("DELETE FROM pictures WHERE picture = 1", (), "picture 1 is gone"),
    ):
        touched = tmp_path / "touched.sqlite"
        touched.write_bytes(copy.read_bytes())
        store = Store(touched)
        for trigger in ("pictures_hold", "pictures_stay"):
            store.db.execute(f"DROP TRIGGER {trigger}")
        store.db.execute(statement, values)
        store.close()
        assert main(["log", "verify", "--db", str(touched)]) == 1
        assert f": {why}." in capsys.readouterr().out
        assert main(["backup", str(tmp_path / "none.sqlite"), "--db", str(touched)]) == 2


@pytest.mark.parametrize("how", ["number", "before"])
async def test_one_erasure_takes_words_and_pictures(
    tmp_path: Path, basis: Basis, crew_file: Path, how: str, capsys: Out
) -> None:
    file = tmp_path / "log.sqlite"
    async with Provider().there() as provider, serving(file, basis, crew_file, provider) as crew:
        await crew.json("T7 ladder in", f"{provider.url}/1")
        await crew.hook("telegram", HOOKS["telegram"](""))
        for exchange in (1, 2):
            await crew.ended(exchange)
        jpeg = pictures.jpeg(crew.office.db, 1)
        assert jpeg
    marked = hashlib.sha256(jpeg).hexdigest()
    argv = ["--number", SAM] if how == "number" else ["--before", "2100-01-01"]
    assert pieces_in(file.read_bytes(), jpeg)
    assert main(["erase", *argv, "--db", str(file)]) == 0
    db = log.open_to_read(file)
    left = [pictures.of_exchange(db, n)[0].kilobytes > 0 for n in (1, 2)]  # either was fetched first
    assert left == ([False, True] if how == "number" else [False, False])
    assert pictures.of_exchange(db, 1)[0].told == "erased" and pictures.verify(db).broken_at is None
    db.close()
    if how == "before":  # both pictures are the same file
        assert not pieces_in(file.read_bytes(), jpeg)
    assert marked.encode() not in file.read_bytes()  # by its digest alone nobody knows it again


def test_what_is_erased_while_it_is_fetched_is_not_kept() -> None:
    store, now = Store(":memory:"), datetime.now(UTC)
    kept = pictures.Pictures(store.db)
    message = Message(id="1", channel="json", sender=SAM, text="", sent_at=now, received_at=now)
    with store.transaction():
        kept.put(1, message, [Picture("1", "http://media.example/1")], now)
        (due,) = kept.take(now, 9, ())
        erase_person(store.db, SAM)
        kept.kept(due, Photograph(b"a picture", 640, 480), now)
    assert pictures.of_exchange(store.db, 1) == [] and kept.take(now, 9, ()) == []
    store.close()


async def test_pictures_are_seen_on_the_exchange_and_on_the_trench_by_who_is_signed_in(crew: Crew) -> None:
    office = crew.office
    sized = "T7 depth 1.6 width 0.9 length 6 firm clay dry"
    exchange = (await crew.json(sized, f"{crew.provider.url}/1"))["exchange"]
    await crew.ended(exchange)
    assert "Sign in" in await office.page("/office/picture/1.jpg")
    await office.sign_in()
    for path in (f"/office/exchange/{exchange}", "/office/trench/Larch%20Street/T7"):
        assert '<img src="/office/picture/1.jpg"' in await office.page(path), path
    assert "nobody here sees" not in await office.page(f"/office/exchange/{exchange}")
    assert "/office/picture/" not in await office.page("/office/trench/Larch%20Street/T7/file")
    async with office.http.get(office.url + "/office/picture/1.jpg") as response:
        assert (response.status, response.content_type) == (200, "image/jpeg")
        assert response.headers["X-Content-Type-Options"] == "nosniff"
        assert (await response.read()).startswith(b"\xff\xd8")
    assert (await office.get("/office/picture/2.jpg"))[0] == 404
