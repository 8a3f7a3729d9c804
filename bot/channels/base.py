"""What a channel is: it verifies and reads a hook, and turns a reply into bytes. It never does I/O.

The shell gives it a `Hook`, keeps what comes out, and only then gives back the answer. A channel is a
frozen value: its fields are its settings, so that a wrong setting is named when it is made, and a secret
never prints.
"""

import hmac
import json
import re
from abc import abstractmethod
from collections.abc import Generator, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from importlib import import_module
from pkgutil import iter_modules
from typing import Annotated, ClassVar, Protocol, TypeVar
from urllib.parse import parse_qsl, urlsplit

from pydantic import BaseModel, BeforeValidator, Field, SecretStr, ValidationError

from bot.message import Message, Reply
from knowledge.reading import Frozen

ModelT = TypeVar("ModelT", bound=BaseModel)
E164 = r"^\+[1-9][0-9]{1,14}$"
"""ITU-T E.164: a plus, a country code that never starts with 0, at most 15 digits in all."""

MOST_ID = 200
"""Characters of a message id."""


def _split(given: object) -> object:
    return tuple(given.split()) if isinstance(given, str) else given


Names = Annotated[tuple[str, ...], BeforeValidator(_split)]
"""Names; a single string is split at blanks."""
Secrets = Annotated[tuple[SecretStr, ...], BeforeValidator(_split)]
"""One secret or, while they are being changed, several; a single string is split at blanks."""
SomeSecrets = Annotated[Secrets, Field(min_length=1)]


@dataclass(frozen=True)
class Hook:
    """One HTTP request as it came in.

    `url` is the public one with the query as it stood in the request line, not decoded and not tidied: it
    is what the sender signed. Names of `headers` are in lower case.
    """

    method: str
    url: str
    headers: Mapping[str, str]
    body: bytes
    received_at: datetime  # UTC

    @cached_property
    def query(self) -> Mapping[str, str]:
        """The query's fields, the first where one comes twice; bytes that are not UTF-8 are escaped.

        Raises BadHook.
        """
        try:
            fields = _fields(self.url.partition("#")[0].partition("?")[2], errors="surrogateescape")
        except ValueError:
            raise BadHook(400, "the query is too long") from None
        return dict(reversed(fields))

    def form(self) -> Sequence[tuple[str, str]]:
        """The body as form fields, in the order sent, blanks kept. Raises BadHook."""
        try:
            return _fields(self.body.decode("ascii"), errors="strict")
        except ValueError:
            raise BadHook(400, "the body is not a form") from None


def _fields(text: str, errors: str) -> list[tuple[str, str]]:
    return parse_qsl(text, keep_blank_values=True, errors=errors, max_num_fields=200)


class BadHook(Exception):  # noqa: N818 - it says what is bad, which is the hook
    """A hook that is not taken. `status` is the HTTP status, `why` a plain reason without secrets."""

    def __init__(self, status: int, why: str, field: str = "") -> None:
        super().__init__(why)
        self.status, self.why, self.field = status, why, field


@dataclass(frozen=True)
class SmsPart:
    """One part of a long SMS whose other parts the gateway never saw. It is not a message."""

    message: Message  # `text` is this part's text only
    ref: int
    total: int
    number: int  # 1 .. total


@dataclass(frozen=True)
class Receipt:
    """What became of a text sent before. `ref` is the outbox key, or what `Sent.ref` gave."""

    ref: str
    delivered: bool
    why: str = ""


@dataclass(frozen=True)
class Picture:
    """A picture that came with a message: where the provider keeps it, and its content type."""

    message_id: str
    place: str
    content_type: str = ""


@dataclass(frozen=True)
class HookAnswer:
    """What the hook is answered with."""

    status: int = 200
    content_type: str = "text/plain; charset=utf-8"
    body: bytes = b""
    headers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class NotTaken:
    """A text of a batch that cannot be taken, as far as it was read; the others of its batch are."""

    sender: str  # "" where it cannot be answered
    id: str
    why: str


@dataclass(frozen=True)
class HookContent:
    """All that one hook brought. `answer` is set where the provider only asked who is there."""

    not_taken: tuple[NotTaken, ...] = ()
    messages: tuple[Message, ...] = ()
    pieces: tuple[SmsPart, ...] = ()
    receipts: tuple[Receipt, ...] = ()
    pictures: tuple[Picture, ...] = ()
    answer: HookAnswer | None = None


class AnswerOnDisk(Protocol):
    """An exchange on disk, to be given back; `reading` and `outcome` are the JSON texts as stored."""

    @property
    def exchange(self) -> int: ...
    @property
    def reply(self) -> str: ...
    @property
    def reading(self) -> str: ...
    @property
    def outcome(self) -> str: ...


@dataclass(frozen=True)
class SendRequest:
    """An HTTP request that sends one text. The url and headers may hold a secret: never log them."""

    method: str
    url: str
    headers: Mapping[str, str] = field(default_factory=dict, repr=False)
    body: bytes = b""


@dataclass(frozen=True)
class Image:
    """A picture to send: a PNG, and where a provider can fetch it ("" where it cannot)."""

    png: bytes
    link: str = ""


@dataclass(frozen=True)
class Fetched:
    """What a provider answered to a request for a picture. Names of `headers` are in lower case."""

    status: int
    headers: Mapping[str, str]
    body: bytes


Steps = Generator[SendRequest, Fetched, bytes]
"""The requests that lead to a picture, each made once the one before was answered; then its bytes."""


class NotFetched(Exception):  # noqa: N818 - it says what is lacking
    """A picture that a channel's provider does not hand out. `why` is plain and holds no secret."""

    def __init__(self, why: str, *, permanent: bool = False) -> None:
        super().__init__(why)
        self.why, self.permanent = why, permanent


@dataclass(frozen=True)
class Sent:
    """What came of sending. `after_s` is the wait the provider asked for; `ref` its name for the text."""

    ok: bool
    permanent: bool = False
    why: str = ""
    ref: str = ""
    after_s: float | None = None


class Channel(Frozen):
    """One way in and out. A subclass sits alone in `bot/channels/<name>.py` and sets `name`."""

    name: ClassVar[str]
    senders: ClassVar[str] = E164  # how a sender is written
    to_number: ClassVar[bool] = True  # an answer goes to the number itself, whoever wrote it on the text
    paced: ClassVar[bool] = True  # one sender is one thumb on a phone, and held to what that can do
    body_limit: int = Field(default=256 * 1024, gt=0)  # bytes of a hook's body
    text_limit: int = Field(default=10_000, gt=0)  # characters of one text
    proves_sender: bool = True  # that a text comes from the number that it says: what is closed opens by it
    repeat_s: int = Field(default=0, ge=0)  # the same words within this time are a repeat under a new id
    send_url: str = ""  # where texts are sent to; without it the channel answers, and cannot send by itself
    picture_hosts: Names = ()  # that pictures are fetched from by https, besides the host of `send_url`

    @abstractmethod
    def read(self, hook: Hook) -> HookContent:
        """Verify, then read. Raises BadHook and nothing else, whatever the bytes."""

    def message(
        self, hook: Hook, id: str, sender: str, text: str, sent_at: datetime | None, attached: bool = False
    ) -> Message:
        """A text, held to what may be kept: an id, a number to answer, a bounded text. Raises BadHook."""
        if not id or len(id) > MOST_ID:
            raise BadHook(422, "the text has no id that can be kept", "id")
        if not self.reaches(sender):
            raise BadHook(422, "the sender cannot be answered", "from")
        if len(text) > self.text_limit:
            raise BadHook(413, f"text is longer than {self.text_limit} characters", "text")
        return Message(
            id=_whole(id),
            channel=self.name,
            sender=sender,
            text=_whole(text),
            sent_at=sent_at or hook.received_at,
            received_at=hook.received_at,
            attached=attached,
        )

    @abstractmethod
    def answer(self, answered: Sequence[AnswerOnDisk]) -> HookAnswer:
        """The hook's answer once all is on disk; a reply that does not go `at_once` is left out."""

    def reaches(self, number: str) -> bool:
        """True where a text to this number can go by this channel."""
        return re.fullmatch(self.senders, number) is not None

    def at_once(self, text: str) -> bool:
        """True where the reply goes back in the hook's answer; otherwise it belongs in the outbox."""
        return False

    def parts(self, text: str) -> tuple[str, ...]:
        """A text cut into what the channel carries as one text; each is sent by itself."""
        return (text,)

    def request(self, reply: Reply, key: str, at: datetime) -> SendRequest | None:
        """The request that sends a reply of one part, None where this channel cannot send by itself.

        `key` is the outbox's name for it: a receipt may give it back. `at` is the time of this try, UTC.
        """
        return None

    def carries_pictures(self, linked: bool) -> bool:
        """True where a picture can be sent; `linked` says that a provider can fetch it from us."""
        return False

    def picture_request(self, reply: Reply, image: Image) -> SendRequest | None:
        """The request that sends a picture with a few words, None where it cannot be sent."""
        return None

    def fetch(self, place: str) -> Steps:
        """The way to a picture that came with a message, from its `Picture.place`. Raises NotFetched."""
        raise NotFetched("this channel brings no pictures", permanent=True)
        yield

    def fetches_from(self, url: str) -> bool:
        """True where a picture may be fetched from there: nobody who texts may send us anywhere else."""
        try:
            asked, own = urlsplit(url), urlsplit(self.send_url)
            same = (asked.scheme, asked.hostname, asked.port) == (own.scheme, own.hostname, own.port)
            named = asked.scheme == "https" and asked.port is None and asked.hostname in self.picture_hosts
        except ValueError:
            return False
        return bool(asked.hostname) and asked.username is None and (same or named)

    def sent(self, status: int, headers: Mapping[str, str], body: bytes) -> Sent:
        """What the provider's answer to `request` means. Raises nothing."""
        return sent_by_status(status, headers, body)

    def refuse(self, bad: BadHook) -> HookAnswer:
        """The answer to a hook that is not taken."""
        return HookAnswer(bad.status, body=bad.why.encode())

    def busy(self, message: Message, text: str) -> HookAnswer:
        """The answer when a message cannot be taken now; `text` tells the sender to ring."""
        return HookAnswer(503, body=text.encode(), headers={"Retry-After": "30"})


def sent_by_status(status: int, headers: Mapping[str, str], body: bytes) -> Sent:
    """The common meaning of an HTTP status: 408, 425, 429 and 5xx may go well later, other 4xx never."""
    why = f"{status}: {body[:200].decode('utf-8', 'replace')}"
    if 200 <= status < 300:
        return Sent(ok=True)
    after = headers.get("retry-after", "")
    return Sent(
        ok=False,
        permanent=400 <= status < 500 and status not in (408, 425, 429),
        why=why,
        after_s=float(after) if re.fullmatch(r"[0-9]{1,6}", after) else None,
    )


def handed_out(answer: Fetched) -> bytes:
    """The body of an answer that has what was asked for. Raises NotFetched."""
    if answer.status == 200:
        return answer.body
    told = sent_by_status(answer.status, {}, b"")
    raise NotFetched(f"the provider answered {answer.status}", permanent=told.permanent)


def same_secret(given: str, wanted: Iterable[str]) -> bool:
    """True where `given` equals one of `wanted`; the time taken tells nothing about which or how much."""
    found = False
    for secret in wanted:
        found |= hmac.compare_digest(given.encode("utf-8", "replace"), secret.encode())
    return found


def in_seconds(given: str | int) -> datetime | None:
    """A time given in seconds since 1970, None where it is not one."""
    try:
        return datetime.fromtimestamp(int(given), UTC)
    except (ValueError, OverflowError, OSError):
        return None


def whole_json(body: bytes) -> bytes:
    """A body as strict readers of JSON take it: halves of surrogate pairs, which phones send where an emoji
    was cut, become question marks. Raises BadHook."""
    try:
        return json.dumps(json.loads(body), ensure_ascii=False).encode("utf-8", "replace")
    except (ValueError, RecursionError):
        raise BadHook(400, "the body is not JSON") from None


def validated(model: type[ModelT], body: bytes) -> ModelT:
    """A body as `model` reads it. Raises BadHook where it is not JSON, else pydantic.ValidationError."""
    try:
        return model.model_validate_json(body)
    except ValidationError as error:
        if error.errors(include_url=False, include_input=False)[0]["type"] != "json_invalid":
            raise
        return model.model_validate_json(whole_json(body))


def _whole(text: str) -> str:
    """The text without halves of surrogate pairs, which no file and no answer could hold."""
    return text.encode("utf-8", "replace").decode()


def all_channels() -> dict[str, type[Channel]]:
    """Every channel in `bot/channels/`, by name."""
    kinds = {}
    for each in iter_modules(import_module("bot.channels").__path__):
        module = import_module(f"bot.channels.{each.name}")
        for kind in vars(module).values():
            is_channel = isinstance(kind, type) and issubclass(kind, Channel) and kind is not Channel
            if is_channel and kind.__module__ == module.__name__:
                kinds[kind.name] = kind
    return kinds
