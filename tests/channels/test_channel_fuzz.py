"""Hostile hooks: whatever the bytes, a channel's `read` gives what it read or raises BadHook."""

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from urllib.parse import quote_from_bytes, urlencode

import pytest
from channel_samples import FOLDER, SETTINGS, channel, hook_of, signed, taken
from hypothesis import given
from hypothesis import strategies as st

from bot.channels.base import Hook, HookContent

SAMPLES = {
    name: [
        hook_of(json.loads(file.read_text(encoding="utf-8")))
        for file in sorted((FOLDER / name).glob("*.json"))
    ]
    for name in SETTINGS
}
CHANNELS = {name: channel(name) for name in SETTINGS}

HUGE = "a number of 5000 digits"  # Python itself cannot print one that long

# Header values come from aiohttp as UTF-8 with stray bytes escaped.
stray = st.binary(max_size=60).map(lambda raw: raw.decode("utf-8", "surrogateescape"))
values: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.just(HUGE) | st.just("\ud800"),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)


def _read(name: str, hook: Hook) -> HookContent | None:
    return taken(CHANNELS[name], hook)


each_channel = pytest.mark.parametrize("name", sorted(SETTINGS))


@each_channel
@given(data=st.data())
def test_hostile_bytes_and_headers(name: str, data: st.DataObject) -> None:
    hook = data.draw(st.sampled_from(SAMPLES[name]))
    changed = {
        key: data.draw(stray) for key in data.draw(st.sets(st.sampled_from(sorted(hook.headers) or ["x"])))
    }
    body = data.draw(st.just(hook.body) | st.binary(max_size=300))
    method = data.draw(st.sampled_from(["GET", "POST", "PUT", "\x00"]))
    hook = replace(hook, method=method, body=body, headers={**hook.headers, **changed})
    _read(name, hook)
    _read(name, signed(name, hook))


@each_channel
@given(data=st.data())
def test_hostile_queries(name: str, data: st.DataObject) -> None:
    hook = data.draw(st.sampled_from(SAMPLES[name]))
    extra = data.draw(st.binary(max_size=80))
    url = data.draw(
        st.just(hook.url + "&" + quote_from_bytes(extra, safe="&=+%;#?[]"))
        | stray.map(lambda query: hook.url.partition("?")[0] + "?key=not-a-real-key&" + query)
        | stray
    )
    _read(name, signed(name, replace(hook, url=url)))


def _mutated(data: st.DataObject, value: Any) -> Any:
    """The value with something in it put out of place."""
    if isinstance(value, dict) and value and data.draw(st.booleans()):
        key = data.draw(st.sampled_from(sorted(value)))
        return {**value, key: _mutated(data, value[key])}
    if isinstance(value, list) and value and data.draw(st.booleans()):
        return [_mutated(data, value[0]), *value[1:]]
    return data.draw(values)


def _json_body(data: st.DataObject, hook: Hook) -> bytes:
    text = json.dumps(_mutated(data, json.loads(hook.body)))
    return text.replace(f'"{HUGE}"', "9" * 5000).encode()


def _form_body(data: st.DataObject, hook: Hook) -> bytes:
    form = dict(hook.form())
    form[data.draw(st.sampled_from(sorted(form)))] = data.draw(st.text(max_size=40))
    return urlencode(form, errors="replace").encode()


BODIES: dict[str, Callable[[st.DataObject, Hook], bytes]] = {
    "json": _json_body,
    "telegram": _json_body,
    "whatsapp": _json_body,
    "formhook": _form_body,
}


@pytest.mark.parametrize("name", sorted(BODIES))
@given(data=st.data())
def test_hostile_values_in_the_right_shape(name: str, data: st.DataObject) -> None:
    hook = data.draw(st.sampled_from([hook for hook in SAMPLES[name] if hook.body]))
    _read(name, signed(name, replace(hook, body=BODIES[name](data, hook))))


@given(header=st.binary(max_size=20), text=st.binary(max_size=30), charset=st.sampled_from(
    ["UTF-8", "UTF-16BE", "8-BIT", "ISO-8859-1", "rot13", "idna", "", "\x00"]
))  # fmt: skip
def test_hostile_parts(header: bytes, text: bytes, charset: str) -> None:
    fields = {"key": "not-a-real-key", "id": "1", "from": "+447700900123", "charset": charset}
    url = f"http://x/hook/kannel?{urlencode(fields)}&udh={quote_from_bytes(header)}&text={quote_from_bytes(text)}"
    taken = _read("kannel", replace(SAMPLES["kannel"][0], method="GET", url=url))
    assert taken is not None
    assert len(taken.messages) + len(taken.pieces) == 1
    assert all(1 <= piece.number <= piece.total for piece in taken.pieces)


@each_channel
@given(st.integers(100, 599), st.binary(max_size=200), stray)
def test_hostile_answers_to_sending(name: str, status: int, body: bytes, after: str) -> None:
    sent = CHANNELS[name].sent(status, {"retry-after": after}, body)
    assert sent.ok == (200 <= status < 300)
    assert not (sent.ok and sent.permanent)
    f"{sent.why}{sent.ref}".encode()
