"""JSON over HTTP: one text in, one exchange back; alerts and codes go to a url of the operator's own.

Signed as Standard Webhooks both ways when a secret is set; without one only programs of the same machine may
text, and nothing is sent.
"""

import base64
import binascii
import hashlib
import hmac
import json
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from ipaddress import ip_address
from typing import Annotated, ClassVar
from urllib.parse import urlsplit

from pydantic import (
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    SecretStr,
    StringConstraints,
    ValidationError,
    ValidationInfo,
    field_validator,
)

from bot.channels.base import (
    E164,
    MOST_ID,
    AnswerOnDisk,
    BadHook,
    Channel,
    Hook,
    HookAnswer,
    HookContent,
    Picture,
    Secrets,
    SendRequest,
    Steps,
    handed_out,
    same_secret,
    validated,
)
from bot.message import Message, Reply

TOLERANCE_S = 300
"""How far a signed timestamp may lie from the time the hook came, either way."""


_DATE_AND_TIME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ]")


_PASSED_ON = re.compile(
    r"x-forwarded|forwarded$|via$|x-real-ip$|x-(original|envoy|cluster|client|remote|appengine)|.*client-?ip$"
    r"|.*connecting-ip$|origin$|referer$|cookie$|sec-|x-scheme$|x-request-start$|front-end-https$"
)


MOST_PICTURES = 10
_Url = Annotated[str, StringConstraints(pattern=r"^https?://", max_length=1000)]


class JsonText(BaseModel):
    """One text as the hook takes it; `sent_at` with its offset from UTC."""

    model_config = ConfigDict(strict=True)

    id: Annotated[str, StringConstraints(min_length=1, max_length=MOST_ID)]
    sender: Annotated[str, StringConstraints(pattern=E164)] = Field(alias="from")
    text: str
    sent_at: Annotated[AwareDatetime, Field(strict=False)] | None = None
    attached: bool = False  # something came with it that is not text
    pictures: Annotated[
        tuple[_Url, ...], Field(max_length=MOST_PICTURES)
    ] = ()  # urls, on a host set up for it

    @field_validator("sent_at", mode="before")
    @classmethod
    def _written_out(cls, given: object) -> object:
        # A bare count of seconds would pass as a time too, and as the wrong one where it counts milliseconds.
        if given is None or (isinstance(given, str) and _DATE_AND_TIME.match(given)):
            return given
        raise ValueError("not a date and time")


_WHY = {
    "missing": "{field} is missing",
    "string_type": "{field} must be a string",
    "bool_type": "{field} must be true or false",
    "string_too_short": "{field} is empty",
    "string_too_long": "{field} is too long",
    "string_pattern_mismatch": "{field} must be a number in full, as +447700900123",
    "timezone_aware": "{field} must say its offset from UTC, as 2026-11-25T08:10:00Z",
}
_WRONG = {
    "sent_at": "{field} must be a date and time with its offset, as 2026-11-25T08:10:00Z",
    "pictures": f"{{field}} must be a list of urls, {MOST_PICTURES} at most",
}


class Json(Channel):
    """`POST /hook/json` with id, from, text, sent_at and attached; the answer is the exchange."""

    name: ClassVar[str] = "json"
    to_number: ClassVar[bool] = False  # the caller has the answer
    paced: ClassVar[bool] = False  # the caller is a program that paces itself
    secrets: Secrets = Field(default=(), validate_default=True)

    @field_validator("secrets")
    @classmethod
    def _are_keys(cls, secrets: tuple[SecretStr, ...], given: ValidationInfo) -> tuple[SecretStr, ...]:
        if given.data.get("send_url") and not secrets:
            raise ValueError("what is sent is signed: a secret is needed")
        for secret in secrets:
            try:
                _key(secret.get_secret_value())
            except binascii.Error:
                raise ValueError("a secret is whsec_ and then base64") from None
        return secrets

    def read(self, hook: Hook) -> HookContent:
        """One message. Raises BadHook: 405 method, 401 signature, 400 not JSON, 413 too long, 422 a field."""
        if hook.method != "POST":
            raise BadHook(405, "texts are posted")
        if self.secrets:
            _verify(hook, self._keys)
        elif not _is_local(hook):
            raise BadHook(401, "from elsewhere than this machine a text must be signed")
        given = _parse(hook.body)
        attached = given.attached or bool(given.pictures)
        if not given.text.strip() and not attached:
            raise BadHook(422, "text is empty", "text")
        try:
            sent_at = given.sent_at and given.sent_at.astimezone(UTC)
        except OverflowError:
            raise BadHook(422, _WRONG["sent_at"].format(field="sent_at"), "sent_at") from None
        message = self.message(hook, given.id, given.sender, given.text, sent_at, attached)
        pictures = tuple(Picture(message.id, url) for url in given.pictures)
        return HookContent(messages=(message,), pictures=pictures)

    def at_once(self, text: str) -> bool:
        """Always: the caller waits for the exchange."""
        return True

    def fetch(self, place: str) -> Steps:
        """The url as it was given, with no secret of ours."""
        return handed_out((yield SendRequest("GET", place)))

    def request(self, reply: Reply, key: str, at: datetime) -> SendRequest | None:
        """A post of id, to and text. The id is the same at every try: a text may come twice."""
        if not self.send_url:
            return None
        # A header has no room for any sign that a key may hold.
        id_ = hashlib.sha256(key.encode()).hexdigest()[:32]
        body = json.dumps({"id": id_, "to": reply.to, "text": reply.text}, ensure_ascii=False).encode()
        stamp = str(int(at.timestamp()))
        headers = {
            "Content-Type": "application/json",
            "webhook-id": id_,
            "webhook-timestamp": stamp,
            "webhook-signature": " ".join(_signatures(self._keys, id_, stamp, body)),
        }
        return SendRequest("POST", self.send_url, headers, body)

    @property
    def _keys(self) -> list[bytes]:
        return [_key(secret.get_secret_value()) for secret in self.secrets]

    def answer(self, answered: Sequence[AnswerOnDisk]) -> HookAnswer:
        """The one exchange; a JSON hook brings one message."""
        (one,) = answered
        reply = json.dumps(one.reply, ensure_ascii=False)
        return _json(
            200,
            f'{{"exchange":{one.exchange},"reply":{reply},"reading":{one.reading},"outcome":{one.outcome}}}',
        )

    def refuse(self, bad: BadHook) -> HookAnswer:
        """The reason, and the field it is about where there is one."""
        return _json(bad.status, json.dumps({"error": bad.why} | ({"field": bad.field} if bad.field else {})))

    def busy(self, message: Message, text: str) -> HookAnswer:
        """503 with a time to come back."""
        return _json(503, json.dumps({"error": text}), {"Retry-After": "30"})


def _json(status: int, text: str, headers: dict[str, str] | None = None) -> HookAnswer:
    return HookAnswer(status, "application/json; charset=utf-8", text.encode(), headers or {})


def _parse(body: bytes) -> JsonText:
    try:
        return validated(JsonText, body)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
    if first["type"] == "json_invalid":
        raise BadHook(400, "the body is not JSON")
    if not first["loc"]:
        raise BadHook(400, "the body must be a JSON object")
    field = str(first["loc"][0])
    usual = _WRONG.get(field, "{field} is wrong")
    why = usual if field == "pictures" else _WHY.get(first["type"], usual)
    raise BadHook(422, why.format(field=field), field)


def _key(secret: str) -> bytes:
    return base64.b64decode(secret.removeprefix("whsec_"), validate=True)


def _is_local(hook: Hook) -> bool:
    """True where nobody stands between this machine and its own caller: no proxy, no page in a browser.

    A program says which host it calls, and no more of where it comes from; whatever else does is not one.
    """
    if "host" not in hook.headers or any(_PASSED_ON.match(name) for name in hook.headers):
        return False
    try:
        host = urlsplit(hook.url).hostname or ""
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


def _verify(hook: Hook, keys: Sequence[bytes]) -> None:
    """Standard Webhooks 1.0: HMAC-SHA256 over id.timestamp.body, base64, any of several signatures."""
    id_, stamp, signatures = (
        hook.headers.get(name, "") for name in ("webhook-id", "webhook-timestamp", "webhook-signature")
    )
    if not (id_ and stamp and signatures):
        raise BadHook(401, "webhook-id, webhook-timestamp and webhook-signature are needed")
    if not re.fullmatch(r"[0-9]{1,12}", stamp):
        raise BadHook(401, "webhook-timestamp is not in seconds")
    good = _signatures(keys, id_, stamp, hook.body)
    if not any(same_secret(each, good) for each in signatures.split(" ")):
        raise BadHook(401, "the signature is not right")
    if abs(hook.received_at.timestamp() - int(stamp)) > TOLERANCE_S:
        raise BadHook(401, "webhook-timestamp is too far from now")


def _signatures(keys: Sequence[bytes], id_: str, stamp: str, body: bytes) -> list[str]:
    signed = f"{id_}.{stamp}.".encode("utf-8", "replace") + body
    return ["v1," + base64.b64encode(hmac.digest(key, signed, "sha256")).decode() for key in keys]
