"""The recorded hooks of tests/samples/, and each channel set up with the secrets they were made with."""

import base64
import hmac
import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from bot.channels.base import BadHook, Channel, Hook, HookContent, all_channels

FOLDER = Path(__file__).parents[1] / "samples"

JSON_SECRET = "whsec_" + base64.b64encode(b"a secret of the tests, no other!").decode()
FORM_SECRET = "a token of the tests"
APP_SECRET = "an app secret of the tests"

SETTINGS: dict[str, dict[str, Any]] = {
    "json": {"secrets": (JSON_SECRET,)},
    "kannel": {
        "secrets": ("not-a-real-key",),
        "send_url": "http://127.0.0.1:13013/cgi-bin/sendsms",
        "hook_url": "http://127.0.0.1:8080/hook/kannel",
        "sender": "70011",
        "username": "trenchword",
        "password": "not-a-real-password",
    },
    "formhook": {
        "secrets": (FORM_SECRET,),
        "hook_url": "https://trench.example/hook/formhook",
        "send_url": "https://api.example/Messages.json",
        "sender": "+447700900999",
        "username": "account",
        "password": "not-a-real-password",
    },
    "telegram": {"secrets": ("token_of_the_tests",), "token": "5550100:not-a-real-token"},
    "whatsapp": {
        "secrets": (APP_SECRET,),
        "verify_token": "verify_of_the_tests",
        "token": "not-a-real-token",
        "send_url": "https://graph.example/5550101/messages",
    },
}


def channel(name: str, **changes: Any) -> Channel:
    """The channel as the samples know it, with some settings changed."""
    return all_channels()[name](**SETTINGS[name] | changes)


def sample(name: str, which: str) -> Hook:
    """One recorded hook."""
    return hook_of(json.loads((FOLDER / name / f"{which}.json").read_text(encoding="utf-8")))


def hook_of(recorded: Mapping[str, Any]) -> Hook:
    """A recorded hook as the shell would hand it over."""
    return Hook(
        method=recorded["method"],
        url=recorded["url"],
        headers=recorded["headers"],
        body=recorded["body"].encode(),
        received_at=datetime.fromisoformat(recorded["received_at"]),
    )


def with_headers(hook: Hook, **headers: str) -> Hook:
    """The hook with some headers changed; "_" stands for "-"."""
    return replace(hook, headers={**hook.headers, **{k.replace("_", "-"): v for k, v in headers.items()}})


def signed(name: str, hook: Hook) -> Hook:
    """The hook as a sender who knows the secrets would send it: hostile bytes get to where they are read."""
    headers = dict(hook.headers)
    if name == "formhook":
        try:
            form = hook.form()
        except BadHook:
            return hook
        url = SETTINGS[name]["hook_url"] + "".join(hook.url.partition("?")[1:])
        signed = url + "".join(k + v for k, v in sorted(set(form)))
        mac = hmac.digest(FORM_SECRET.encode(), signed.encode("utf-8", "replace"), "sha1")
        headers["x-twilio-signature"] = base64.b64encode(mac).decode()
    elif name == "whatsapp":
        headers["x-hub-signature-256"] = (
            "sha256=" + hmac.digest(APP_SECRET.encode(), hook.body, "sha256").hex()
        )
    elif name == "json":
        stamp = str(int(hook.received_at.timestamp()))
        key = base64.b64decode(JSON_SECRET.removeprefix("whsec_"))
        mac = hmac.digest(key, f"1.{stamp}.".encode() + hook.body, "sha256")
        headers |= {"webhook-id": "1", "webhook-timestamp": stamp}
        headers["webhook-signature"] = f"v1,{base64.b64encode(mac).decode()}"
    elif name == "telegram":
        headers["x-telegram-bot-api-secret-token"] = SETTINGS[name]["secrets"][0]
    return replace(hook, headers=headers)


def taken(channel: Channel, hook: Hook) -> HookContent | None:
    """What a channel reads, None where it refuses. What is taken can be stored and answered."""
    try:
        read = channel.read(hook)
    except BadHook as bad:
        assert 400 <= bad.status < 500
        channel.refuse(bad)
        return None
    kept = list(read.messages) + [piece.message for piece in read.pieces]
    for message in kept:
        f"{message.id}{message.text}".encode()
        assert message.id and len(message.id) <= 200 and len(message.text) <= 10_000
        assert channel.reaches(message.sender)
        assert message.sent_at.utcoffset() is not None
    for receipt in read.receipts:
        f"{receipt.ref}{receipt.why}".encode()
    return read
