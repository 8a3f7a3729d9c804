"""Kannel, an open-source SMS gateway: its sms-service calls this hook, its sendsms interface sends.

Kannel signs nothing: a secret `key` in the query of the service's url says that it is Kannel. It wants
`%I` as `id` (the same on each of its own retries, a new one where the network delivers a text twice) and
`%u` as `udh`. Replies go by sendsms where that is set up: a reply given in the hook's answer is gone when
the gateway falls over, one in the outbox is sent again.
"""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import ClassVar
from urllib.parse import unquote_to_bytes, urlencode

from pydantic import Field, SecretStr

from bot.channels import segments
from bot.channels.base import (
    AnswerOnDisk,
    BadHook,
    Channel,
    Hook,
    HookAnswer,
    HookContent,
    Receipt,
    SendRequest,
    SmsPart,
    SomeSecrets,
    in_seconds,
    same_secret,
)
from bot.message import Message, Reply

_CUT = " (cut: ring for the rest)"
_CHARSETS = {"utf-8", "utf-16be", "iso-8859-1", "windows-1252", "us-ascii"}
_DELIVERED, _FAILED, _REJECTED = "1", "2", "16"  # bits of Kannel's dlr-mask


class Kannel(Channel):
    """`/hook/kannel?key=..&id=%I&from=%p&text=%b&ts=%T&charset=%C&udh=%u`, or posted with `?key=..&id=%I`."""

    name: ClassVar[str] = "kannel"
    proves_sender: bool = False  # anybody can have any number written on an SMS
    repeat_s: int = Field(default=30, ge=0)  # seconds; the network's repeats come with new ids
    secrets: SomeSecrets
    most_parts: int = Field(default=6, ge=1, le=255)  # max-messages of the gateway: it cuts off the rest
    send_url: str = ""  # as http://127.0.0.1:13013/cgi-bin/sendsms
    hook_url: str = ""  # this hook as the gateway reaches it, for delivery receipts
    sender: str = ""  # the number that texts are sent from
    username: str = ""
    password: SecretStr = SecretStr("")

    def read(self, hook: Hook) -> HookContent:
        """A message, a piece of one, or a receipt. Raises BadHook."""
        if not same_secret(hook.query.get("key", ""), [secret.get_secret_value() for secret in self.secrets]):
            raise BadHook(401, "the key is not right")
        if hook.method not in ("GET", "POST"):
            raise BadHook(405, "Kannel gets or posts")
        if "receipt" in hook.query:
            return _receipt(hook)
        sender, text, time, header = _posted(hook) if hook.method == "POST" else _got(hook)
        message = self.message(hook, hook.query.get("id", ""), _number(sender), text, _time(time))
        part = _part(header)
        return HookContent(pieces=(SmsPart(message, *part),)) if part else HookContent(messages=(message,))

    def at_once(self, text: str) -> bool:
        """Only where no sendsms interface is set up."""
        return not self.send_url

    def answer(self, answered: Sequence[AnswerOnDisk]) -> HookAnswer:
        """The reply as plain text; empty for none, which needs `omit-empty = true` in the gateway."""
        text = "".join(each.reply for each in answered if self.at_once(each.reply))
        return self._say(text)

    def busy(self, message: Message, text: str) -> HookAnswer:
        """Said to the sender as a text: Kannel would only ask again."""
        return self._say(text)

    def _say(self, text: str) -> HookAnswer:
        if len(self.parts(text)) > 1:
            room = segments.pages(text, self.most_parts)[0]
            text = room[: -2 * len(_CUT)].rstrip() + _CUT
        coding = {} if segments.is_gsm(text) else {"X-Kannel-Coding": "2"}
        return HookAnswer(body=text.encode(), headers=coding)

    def parts(self, text: str) -> tuple[str, ...]:
        """Texts of as many parts as the gateway sends as one."""
        return segments.pages(text, self.most_parts)

    def request(self, reply: Reply, key: str, at: datetime) -> SendRequest | None:
        """A post to sendsms. Name and password travel in headers, so that no log of urls holds them."""
        if not self.send_url:
            return None
        headers = {
            "Content-Type": "text/plain; charset=utf-8",
            "X-Kannel-Username": self.username,
            "X-Kannel-Password": self.password.get_secret_value(),
            "X-Kannel-From": self.sender,
            "X-Kannel-To": reply.to,
            "X-Kannel-Coding": "0" if segments.is_gsm(reply.text) else "2",
        }
        if self.hook_url:
            headers |= {"X-Kannel-DLR-Mask": "19", "X-Kannel-DLR-Url": self._receipt_url(key)}
        return SendRequest("POST", self.send_url, headers, reply.text.encode())

    def _receipt_url(self, key: str) -> str:
        secret = self.secrets[0].get_secret_value()
        # Kannel fills in %d and %A, so these two stay as they are.
        return f"{self.hook_url}?{urlencode({'key': secret, 'receipt': key})}&state=%d&why=%A"


def _receipt(hook: Hook) -> HookContent:
    state = hook.query.get("state", "")
    if state not in (_DELIVERED, _FAILED, _REJECTED):
        return HookContent()
    why = "" if state == _DELIVERED else _text(hook.query.get("why", ""), "")[:200]
    return HookContent(receipts=(Receipt(_text(hook.query["receipt"], ""), state == _DELIVERED, why),))


def _got(hook: Hook) -> tuple[str, str, str, bytes]:
    given = hook.query
    text = _text(given.get("text", ""), given.get("charset", ""))
    return given.get("from", ""), text, given.get("ts", ""), _bytes(given.get("udh", ""))


def _posted(hook: Hook) -> tuple[str, str, str, bytes]:
    given = hook.headers
    charset = given.get("content-type", "").lower().partition("charset=")[2].strip(' "')
    text = _text(hook.body.decode("utf-8", "surrogateescape"), charset)
    header = unquote_to_bytes(_bytes(given.get("x-kannel-udh", "").replace("+", " ")))
    return given.get("x-kannel-from", ""), text, given.get("x-kannel-time", ""), header


def _bytes(given: str) -> bytes:
    return given.encode("utf-8", "surrogateescape")


def _text(given: str, charset: str) -> str:
    """What the gateway sent, in the coding it names; bytes that make no text become question marks."""
    known = charset.lower() if charset.lower() in _CHARSETS else "utf-8"
    return _bytes(given).decode(known, "replace")


def _number(given: str) -> str:
    """A number in full. Kannel may leave out the plus or write 00 for it."""
    given = given.strip()
    if given.startswith("00"):
        return f"+{given[2:]}"
    return given if given.startswith("+") else f"+{given}"


def _time(given: str) -> datetime | None:
    try:
        return datetime.strptime(given, "%Y-%m-%d %H:%M:%S").replace(tzinfo=UTC)
    except ValueError:
        return in_seconds(given)


def _part(header: bytes) -> tuple[int, int, int] | None:
    """Reference, total and number of a part, from a user data header (TS 23.040 9.2.3.24.1 and .8)."""
    at = 1
    while at + 2 <= len(header):
        kind, length = header[at], header[at + 1]
        value = header[at + 2 : at + 2 + length]
        at += 2 + length
        if (kind, len(value)) in ((0x00, 3), (0x08, 4)):
            ref, total, number = int.from_bytes(value[:-2]), value[-2], value[-1]
            if 1 <= number <= total and total > 1:
                return ref, total, number
    return None
