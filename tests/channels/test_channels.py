"""Every channel against its recorded hooks (tests/samples/), and what it gives back and sends.

Kannel's samples were recorded from Kannel 1.4.5 of Debian 12; the others were written after the
providers' documentation, with invented numbers. What each must read was written by hand.
"""

import json
import xml.etree.ElementTree as ET
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, parse_qsl

import pytest
from channel_samples import FOLDER, SETTINGS, channel, hook_of, sample, signed

from bot.channels.base import BadHook, Hook, Sent, all_channels
from bot.message import Message, Reply

SAMPLES = sorted(FOLDER.glob("*/*.json"))
NOW = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
TO = Reply(to="+447700900123", text="3 units, 1.5 m apart.")


@dataclass(frozen=True)
class Exchange:
    """An exchange as the store gives it back."""

    exchange: int = 17
    reply: str = 'Set 3 units. Pump to "40" bar.'
    reading: str = '{"purpose":"size","depth_m":1.6}'
    outcome: str = '{"kind":"sized","units":3}'


def _plain(message: Message) -> dict[str, Any]:
    return {
        "id": message.id,
        "sender": message.sender,
        "text": message.text,
        "sent_at": message.sent_at.isoformat().replace("+00:00", "Z"),
    }


def test_every_channel_has_samples() -> None:
    assert {file.parent.name for file in SAMPLES} == set(all_channels()) == set(SETTINGS)


@pytest.mark.parametrize("file", SAMPLES, ids=lambda file: f"{file.parent.name}-{file.stem}")
def test_a_recorded_hook_is_read(file: Path) -> None:
    recorded = json.loads(file.read_text(encoding="utf-8"))
    taken = channel(file.parent.name).read(hook_of(recorded))
    expect = recorded["expect"]
    assert [_plain(message) for message in taken.messages] == expect.get("messages", [])
    assert [asdict(piece) | {"message": _plain(piece.message)} for piece in taken.pieces] == expect.get(
        "pieces", []
    )
    assert [asdict(receipt) for receipt in taken.receipts] == expect.get("receipts", [])
    assert [asdict(picture) for picture in taken.pictures] == expect.get("pictures", [])
    assert (taken.answer.body.decode() if taken.answer else None) == expect.get("answer")
    assert all(message.channel == file.parent.name for message in taken.messages)


@pytest.mark.parametrize(
    ("name", "which", "attached"),
    [
        ("formhook", "picture", [True]),
        ("formhook", "text", [False]),
        ("telegram", "picture", [True]),
        ("telegram", "text", [False]),
        ("whatsapp", "batch", [False, True, True]),  # words, a picture, a voice
        ("json", "text", [False]),
        ("kannel", "get", [False]),
    ],
)
def test_what_came_beside_the_words_is_known(name: str, which: str, attached: list[bool]) -> None:
    taken = channel(name).read(sample(name, which))
    assert [message.attached for message in taken.messages] == attached


@pytest.mark.parametrize("kind", ["image", "video", "document"])
def test_a_caption_is_read_whatever_it_stands_under(kind: str) -> None:
    said = {"id": "wamid.1", "from": "447700900123", "timestamp": "1795594200", "type": kind}
    said[kind] = {"id": "media-1", "caption": "crack in T4"}  # type: ignore[assignment]
    batch = {"entry": [{"changes": [{"value": {"messages": [said]}}]}]}
    hook = replace(sample("whatsapp", "batch"), body=json.dumps(batch).encode())
    (message,) = channel("whatsapp").read(signed("whatsapp", hook)).messages
    assert (message.text, message.attached) == ("crack in T4", True)


def test_a_caller_can_say_that_something_came_beside_the_words() -> None:
    given = {"id": "1", "from": "+447700900123", "text": "", "attached": True}
    hook = replace(sample("json", "text"), body=json.dumps(given).encode())
    (message,) = channel("json").read(signed("json", hook)).messages
    assert message.attached


@pytest.mark.parametrize("name", sorted(SETTINGS))
def test_no_secret_is_ever_printed(name: str) -> None:
    made = channel(name)
    secrets = SETTINGS[name]["secrets"] + (SETTINGS[name].get("password"), SETTINGS[name].get("token"))
    shown = f"{made!r} {made} {made.model_dump_json()} {made.request(_reply(name), '17-1', NOW)!r}"
    # A Telegram url holds the token; nothing but a url may, and urls are not logged.
    shown = shown.replace("bot5550100:not-a-real-token/", "")
    assert not any(secret in shown for secret in secrets if secret)


def _reply(name: str) -> Reply:
    return Reply(to="telegram:5550100", text=TO.text) if name == "telegram" else TO


OK: dict[str, Any] = {
    "id": "m-1",
    "from": "+447700900123",
    "text": "depth 1.6",
    "sent_at": "2026-11-25T08:10:00Z",
}


def _posted(body: bytes) -> Hook:
    headers = {"host": "127.0.0.1"}
    at = datetime(2026, 11, 25, 8, 10, 5, tzinfo=UTC)
    return Hook("POST", "http://127.0.0.1/hook/json", headers, body, at)


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"id": ""}, 422, "id"),
        ({"id": 1}, 422, "id"),
        ({"id": None}, 422, "id"),
        ({"id": "x" * 201}, 422, "id"),
        ({"from": "07700900123"}, 422, "from"),
        ({"from": "447700900123"}, 422, "from"),
        ({"from": "+0447700900"}, 422, "from"),
        ({"from": "+447700900123\n"}, 422, "from"),
        ({"from": "+1234567890123456"}, 422, "from"),  # E.164: at most 15 digits
        ({"from": "+٤٤٧٧٠٠٩٠٠١٢٣"}, 422, "from"),
        ({"from": ["+447700900123"]}, 422, "from"),
        ({"text": ""}, 422, "text"),
        ({"text": " \n\u00a0"}, 422, "text"),
        ({"text": 16}, 422, "text"),
        ({"text": "a" * 10_001}, 413, "text"),
        ({"sent_at": "2026-11-25T08:10:00"}, 422, "sent_at"),  # no offset
        ({"sent_at": "2026-11-25"}, 422, "sent_at"),
        ({"sent_at": "1795594200"}, 422, "sent_at"),
        ({"sent_at": 1795594200}, 422, "sent_at"),
        ({"sent_at": "soon"}, 422, "sent_at"),
        ({"sent_at": "2026-13-25T08:10:00Z"}, 422, "sent_at"),
        ({"sent_at": "0001-01-01T00:00:00+23:59"}, 422, "sent_at"),  # before year 1 in UTC
        ({"sent_at": True}, 422, "sent_at"),
    ],
)
def test_json_names_the_wrong_field(change: dict[str, Any], status: int, field: str) -> None:
    json_channel = channel("json", secrets=())
    with pytest.raises(BadHook) as caught:
        json_channel.read(_posted(json.dumps(OK | change).encode()))
    assert (caught.value.status, caught.value.field) == (status, field)
    refused = json_channel.refuse(caught.value)
    assert refused.status == status and refused.content_type.startswith("application/json")
    assert json.loads(refused.body) == {"error": caught.value.why, "field": field}


@pytest.mark.parametrize("field", ["id", "from", "text"])
def test_json_names_the_missing_field(field: str) -> None:
    with pytest.raises(BadHook, match=f"{field} is missing") as caught:
        channel("json", secrets=()).read(
            _posted(json.dumps({k: v for k, v in OK.items() if k != field}).encode())
        )
    assert caught.value.status == 422


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"null", b'"x"', b"[" * 100_000, b"\xff\xfe", b"{}{}"])
def test_json_says_what_is_no_json(body: bytes) -> None:
    with pytest.raises(BadHook) as caught:
        channel("json", secrets=()).read(_posted(body))
    assert caught.value.status == 400


def test_json_takes_the_longest_text() -> None:
    taken = channel("json", secrets=()).read(_posted(json.dumps(OK | {"text": "ж" * 10_000}).encode()))
    assert len(taken.messages[0].text) == 10_000


def test_json_gives_the_exchange_back() -> None:
    answer = channel("json").answer([Exchange()])
    assert (answer.status, answer.content_type) == (200, "application/json; charset=utf-8")
    assert json.loads(answer.body) == {
        "exchange": 17,
        "reply": 'Set 3 units. Pump to "40" bar.',
        "reading": {"purpose": "size", "depth_m": 1.6},
        "outcome": {"kind": "sized", "units": 3},
    }


def test_kannel_answers_at_once_only_without_sendsms() -> None:
    """Kannel 1.4.5: a text without a header in another coding comes out as question marks (measured)."""
    assert channel("kannel").answer([Exchange()]).body == b""
    alone = channel("kannel", send_url="")
    answer = alone.answer([Exchange(reply="Ring: €5")])
    assert (answer.status, answer.content_type) == (200, "text/plain; charset=utf-8")
    assert (answer.body.decode(), dict(answer.headers)) == ("Ring: €5", {})
    assert alone.answer([Exchange(reply="Стоп")]).headers == {"X-Kannel-Coding": "2"}


def test_kannel_never_lets_the_gateway_cut_a_text_unsaid() -> None:
    """Kannel 1.4.5 cuts at max-messages without a word (measured: 918 characters at 6)."""
    text = "level " * 300
    cut = channel("kannel", send_url="").answer([Exchange(reply=text)]).body.decode()
    assert len(cut) <= 918 and cut.endswith("(cut: ring for the rest)")
    parts = channel("kannel").parts(text)
    assert " ".join(parts).split() == text.split()
    assert all(len(part) <= 918 for part in parts)


def test_kannel_cannot_be_made_to_send_elsewhere() -> None:
    """X-Kannel-To in an answer sends the reply to another number (measured): it must never be there."""
    for text in ("x\r\nX-Kannel-To: +447700900999", "Стоп\nX-Kannel-To: 1"):
        answer = channel("kannel", send_url="").answer([Exchange(reply=text)])
        assert not {"x-kannel-to", "x-kannel-from"} & {name.lower() for name in answer.headers}


def test_kannel_posts_to_sendsms() -> None:
    request = channel("kannel").request(TO, "17-1", NOW)
    assert request is not None
    assert (request.method, request.url) == ("POST", "http://127.0.0.1:13013/cgi-bin/sendsms")
    assert request.body == TO.text.encode()
    assert request.headers["X-Kannel-To"] == TO.to and request.headers["X-Kannel-Coding"] == "0"
    back = parse_qs(request.headers["X-Kannel-DLR-Url"].partition("?")[2], keep_blank_values=True)
    assert back == {"key": ["not-a-real-key"], "receipt": ["17-1"], "state": ["%d"], "why": ["%A"]}
    assert channel("kannel", send_url="").request(TO, "17-1", NOW) is None


def test_an_unsigned_text_says_which_host_it_calls() -> None:
    """HTTP/1.0 without a host may have come through anything."""
    hook = _posted(b'{"id": "1", "from": "+447700900123", "text": "ladder in"}')
    assert channel("json", secrets=()).read(hook).messages
    with pytest.raises(BadHook):
        channel("json", secrets=()).read(replace(hook, headers={}))


def test_form_replies_are_xml() -> None:
    alone = channel("formhook", send_url="")
    answer = alone.answer([Exchange(reply="a < b & c\x07 ½")])
    root = ET.fromstring(answer.body.decode())
    assert answer.content_type.startswith("text/xml")
    assert (root.tag, [each.text for each in root]) == ("Response", ["a < b & c ½"])
    assert [
        len(each.text or "") for each in ET.fromstring(alone.answer([Exchange(reply="x" * 1700)]).body)
    ] == [
        1600,
        100,
    ]
    assert list(ET.fromstring(alone.answer([]).body)) == []


def test_form_sending() -> None:
    made = channel("formhook")
    request = made.request(TO, "17-1", NOW)
    assert request is not None
    assert dict(parse_qsl(request.body.decode())) == {
        "To": TO.to,
        "From": "+447700900999",
        "Body": TO.text,
        "StatusCallback": "https://trench.example/hook/formhook",
    }
    assert made.sent(201, {}, b'{"sid": "SM1"}') == Sent(ok=True, ref="SM1")
    assert made.sent(201, {}, b"[]") == Sent(ok=True)


def test_telegram_sending() -> None:
    made = channel("telegram")
    request = made.request(Reply(to="telegram:5550100", text="½"), "17-1", NOW)
    assert request is not None
    assert request.url == "https://api.telegram.org/bot5550100:not-a-real-token/sendMessage"
    assert json.loads(request.body) == {"chat_id": 5550100, "text": "½"}
    slow = made.sent(429, {}, b'{"ok":false,"error_code":429,"parameters":{"retry_after":7}}')
    assert (slow.ok, slow.permanent, slow.after_s) == (False, False, 7)
    assert made.sent(403, {}, b'{"ok":false,"description":"Forbidden: bot was blocked"}').permanent
    assert made.sent(200, {}, b'{"ok":true,"result":{"message_id":5}}').ok
    assert [len(part.encode("utf-16-le")) // 2 for part in made.parts("😀" * 2100)] == [4096, 104]
    assert made.reaches("telegram:5550100") and not made.reaches(TO.to)


def test_whatsapp_sending() -> None:
    made = channel("whatsapp")
    request = made.request(TO, "17-1", NOW)
    assert request is not None
    assert request.headers["Authorization"] == "Bearer not-a-real-token"
    assert json.loads(request.body) == {
        "messaging_product": "whatsapp",
        "to": "447700900123",
        "type": "text",
        "text": {"body": TO.text},
    }
    assert made.sent(200, {}, b'{"messages":[{"id":"wamid.1"}]}') == Sent(ok=True, ref="wamid.1")
    assert made.sent(200, {}, b"<html>") == Sent(ok=True)


@pytest.mark.parametrize("name", ["kannel", "formhook", "telegram", "whatsapp", "json"])
@pytest.mark.parametrize(
    ("status", "ok", "permanent"),
    [(200, True, False), (202, True, False), (400, False, True), (404, False, True), (408, False, False),
     (429, False, False), (500, False, False), (503, False, False), (302, False, False)],
)  # fmt: skip
def test_what_a_status_means(name: str, status: int, ok: bool, permanent: bool) -> None:
    """RFC 9110: 5xx, 408 and 429 (RFC 6585) may go well later; other 4xx say that the request is wrong."""
    sent = channel(name).sent(status, {"retry-after": "11"}, b"\xff")
    assert (sent.ok, sent.permanent) == (ok, permanent)


def test_a_busy_service_says_so() -> None:
    message = channel("json", secrets=()).read(_posted(json.dumps(OK).encode())).messages[0]
    say = "No answer. Ring."
    assert channel("json").busy(message, say).status == 503
    assert channel("kannel").busy(message, say).body == say.encode()
    assert say in channel("formhook").busy(message, say).body.decode()
    # These two come again by themselves.
    assert channel("telegram").busy(message, say).status == 503
    assert channel("whatsapp").busy(message, say).status == 503


@pytest.mark.parametrize(
    ("header", "part"),
    [
        ("%05%00%03%CC%02%01", (204, 2, 1)),
        ("%06%08%04%01%02%03%02", (258, 3, 2)),  # a reference of 16 bits
        ("%09%24%01%01%00%03%07%03%03%00", (7, 3, 3)),  # after an element of another kind
        ("%05%00%03%CC%01%01", None),  # the only part: the text is whole
        ("%05%00%03%CC%02%00", None),  # parts count from 1
        ("%05%00%03%CC%02%03", None),
        ("%05%00%03%CC", None),  # cut off
        ("", None),
    ],
)
def test_parts_of_a_long_text(header: str, part: tuple[int, int, int] | None) -> None:
    """3GPP TS 23.040 9.2.3.24.1 and 9.2.3.24.8, octets written by hand (M-H)."""
    hook = sample("kannel", "get")
    taken = channel("kannel").read(replace(hook, url=hook.url + header))
    assert [(piece.ref, piece.total, piece.number) for piece in taken.pieces] == ([part] if part else [])
    assert len(taken.messages) == (0 if part else 1)


def test_bytes_that_are_no_text_are_kept_as_signs() -> None:
    hook = sample("kannel", "get")
    broken = replace(hook, url=hook.url.replace("text=depth", "text=%FFdepth").replace("id=e6", "id=%FFe6"))
    (message,) = channel("kannel").read(broken).messages
    assert message.text.encode().decode().startswith("\ufffddepth 1.6")
    assert message.id.encode().decode().endswith("c07683-ca71-4316-96b1-70e8e9f57867")


def test_times_that_make_no_time_are_the_time_of_arrival() -> None:
    hook = sample("kannel", "get")
    for ts in ("", "x", "99999999999999999999", "-1e9"):
        late = replace(hook, url=hook.url.replace("ts=1795602383", f"ts={ts}"))
        assert channel("kannel").read(late).messages[0].sent_at == hook.received_at
    assert channel("kannel").read(hook).messages[0].sent_at - hook.received_at == timedelta(
        hours=2, minutes=16, seconds=18
    )
