"""The WhatsApp Cloud API's webhook: batches of messages and receipts, signed over the raw body.

The scheme has no time in it; a message's own id keeps a repeat from counting twice. A refused batch comes
again for up to seven days. Replies are separate calls.
"""

import hmac
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from typing import Any, ClassVar
from urllib.parse import quote

from pydantic import BaseModel, Field, SecretStr, ValidationError

from bot.channels import segments
from bot.channels.base import (
    E164,
    MOST_ID,
    AnswerOnDisk,
    BadHook,
    Channel,
    Hook,
    HookAnswer,
    HookContent,
    Image,
    ModelT,
    Names,
    NotFetched,
    NotTaken,
    Picture,
    Receipt,
    SendRequest,
    Sent,
    SomeSecrets,
    Steps,
    handed_out,
    in_seconds,
    same_secret,
    sent_by_status,
    validated,
)
from bot.message import Message, Reply

MOST_CHARS = 4096
"""Characters of one text."""

_WORDS = {"text", "button"}  # all other kinds are something to look at or listen to
_SILENT = {"reaction", "system"}  # said about a text or a number; nobody waits for an answer
_STATES = {"delivered": True, "read": True, "failed": False}


class _Words(BaseModel):
    body: str = ""
    text: str = ""  # of a button


class _Media(BaseModel):
    id: str = ""
    mime_type: str | None = None
    caption: str | None = None


class _Said(BaseModel):
    id: str
    sender: str = Field(alias="from")
    timestamp: str = ""  # without one it counts from when it came
    type: str
    text: _Words = _Words()
    button: _Words = _Words()
    image: _Media = _Media()
    video: _Media = _Media()
    document: _Media = _Media()


class _Error(BaseModel):
    title: str = ""


class _Status(BaseModel):
    id: str
    status: str
    errors: tuple[_Error, ...] = ()


class _Value(BaseModel):
    messages: tuple[Any, ...] = ()  # each is read by itself, so that none keeps the others out
    statuses: tuple[Any, ...] = ()


class _Change(BaseModel):
    value: Any = None


class _Entry(BaseModel):
    changes: tuple[Any, ...] = ()


class _Batch(BaseModel):
    entry: tuple[Any, ...]


class _Named(BaseModel):
    id: str


class _Place(BaseModel):
    url: str


class _Accepted(BaseModel):
    messages: tuple[_Named, ...] = Field(min_length=1)


class _Body(BaseModel):
    body: str


class _Send(BaseModel):
    messaging_product: str = "whatsapp"
    to: str
    type: str = "text"
    text: _Body


class _Linked(BaseModel):
    link: str
    caption: str


class _SendImage(BaseModel):
    messaging_product: str = "whatsapp"
    to: str
    type: str = "image"
    image: _Linked


class Whatsapp(Channel):
    """`POST /hook/whatsapp` with a batch; `GET` is the provider making sure of us."""

    name: ClassVar[str] = "whatsapp"
    body_limit: int = Field(default=3 * 1024 * 1024, gt=0)  # bytes; batches can be large
    secrets: SomeSecrets  # of the app
    verify_token: SecretStr
    token: SecretStr  # for sending
    send_url: str  # as https://graph.facebook.com/v23.0/<phone number id>/messages
    picture_hosts: Names = ("lookaside.fbsbx.com",)  # the provider's documentation (M-H)

    def read(self, hook: Hook) -> HookContent:
        """All messages, pictures and receipts of a batch. Raises BadHook."""
        if hook.method == "GET":
            return self._greet(hook)
        good = [
            "sha256=" + hmac.digest(secret.get_secret_value().encode(), hook.body, "sha256").hex()
            for secret in self.secrets
        ]
        if not same_secret(hook.headers.get("x-hub-signature-256", ""), good):
            raise BadHook(401, "the signature is not right")
        try:
            batch = validated(_Batch, hook.body)
        except ValidationError:
            raise BadHook(400, "the body is not a batch of messages") from None
        changes = [change for entry in _each(_Entry, batch.entry) for change in entry.changes]
        values = _each(_Value, [change.value for change in _each(_Change, changes)])
        messages: list[Message] = []
        pictures: list[Picture] = []
        not_taken: list[NotTaken] = []
        for given in (each for value in values for each in value.messages):
            try:
                messages.extend(self._read(hook, given, pictures))
            except BadHook as bad:
                not_taken.append(_not_taken(given, bad.why))
            except ValidationError:
                not_taken.append(_not_taken(given, "the text is not of a shape that is known"))
        statuses = _each(_Status, [each for value in values for each in value.statuses])
        return HookContent(
            messages=tuple(messages),
            not_taken=tuple(not_taken),
            pictures=tuple(pictures),
            receipts=tuple(
                Receipt(each.id, _STATES[each.status], "; ".join(error.title for error in each.errors)[:200])
                for each in statuses
                if each.status in _STATES
            ),
        )

    def _read(self, hook: Hook, given: object, pictures: list[Picture]) -> Iterator[Message]:
        """One message of a batch, and its picture. Raises BadHook or ValidationError."""
        said = _Said.model_validate(given)
        if said.type in _SILENT:
            return
        sender, at, attached = f"+{said.sender}", in_seconds(said.timestamp), said.type not in _WORDS
        yield self.message(hook, said.id, sender, _text(said), at, attached)
        if said.image.id:
            pictures.append(Picture(said.id, said.image.id, said.image.mime_type or ""))
        kind = said.document.mime_type or ""
        if said.document.id and kind.startswith("image/"):  # sent as a file
            pictures.append(Picture(said.id, said.document.id, kind))

    def _greet(self, hook: Hook) -> HookContent:
        good = same_secret(hook.query.get("hub.verify_token", ""), [self.verify_token.get_secret_value()])
        challenge = hook.query.get("hub.challenge", "")
        if not (good and hook.query.get("hub.mode") == "subscribe" and challenge.isalnum()):
            raise BadHook(403, "the verify token is not right")
        return HookContent(answer=HookAnswer(body=challenge.encode()))

    def answer(self, answered: Sequence[AnswerOnDisk]) -> HookAnswer:
        """Taken; the replies are in the outbox."""
        return HookAnswer()

    def parts(self, text: str) -> tuple[str, ...]:
        """Texts of at most 4096 characters."""
        return segments.cut(text, lambda rest: rest[:MOST_CHARS])

    def request(self, reply: Reply, key: str, at: datetime) -> SendRequest | None:
        """A call with a bearer token; a receipt names the text by the id given back here."""
        return self._call(_Send(to=reply.to.removeprefix("+"), text=_Body(body=reply.text)))

    def carries_pictures(self, linked: bool) -> bool:
        """Where the provider can fetch them."""
        return linked

    def picture_request(self, reply: Reply, image: Image) -> SendRequest | None:
        """A call like that for a text; the provider fetches the picture by its link."""
        if not image.link:
            return None
        linked = _Linked(link=image.link, caption=reply.text)
        return self._call(_SendImage(to=reply.to.removeprefix("+"), image=linked))

    def fetch(self, place: str) -> Steps:
        """The picture's id says where it is for the next minutes; both calls have the bearer token."""
        version = self.send_url.rsplit("/", 2)[0]
        told = handed_out((yield SendRequest("GET", f"{version}/{quote(place, safe='')}", self._bearer)))
        try:
            url = _Place.model_validate_json(told).url
        except ValidationError:
            raise NotFetched("the provider does not say where it is", permanent=True) from None
        return handed_out((yield SendRequest("GET", url, self._bearer)))

    @property
    def _bearer(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token.get_secret_value()}"}

    def _call(self, said: _Send | _SendImage) -> SendRequest:
        headers = {"Content-Type": "application/json", **self._bearer}
        return SendRequest("POST", self.send_url, headers, said.model_dump_json().encode())

    def sent(self, status: int, headers: Mapping[str, str], body: bytes) -> Sent:
        """As the status says; the id of the text is in the body."""
        sent = sent_by_status(status, headers, body)
        try:
            return Sent(ok=True, ref=_Accepted.model_validate_json(body).messages[0].id) if sent.ok else sent
        except ValidationError:
            return sent


def _each(model: type[ModelT], given: Iterable[object]) -> list[ModelT]:
    """Those of them that are of this shape."""
    found = []
    for one in given:
        with suppress(ValidationError):
            found.append(model.model_validate(one))
    return found


def _not_taken(given: object, why: str) -> NotTaken:
    """As much of a text as can be told: who sent it, so that they can be rung."""
    said = given if isinstance(given, dict) else {}
    sender, id = f"+{said.get('from')}", said.get("id")
    known = re.fullmatch(E164, sender) is not None
    return NotTaken(sender if known else "", id[:MOST_ID] if isinstance(id, str) else "", why)


def _text(said: _Said) -> str:
    captions = (media.caption or "" for media in (said.image, said.video, said.document))
    return said.text.body or said.button.text or "".join(captions)
