"""A Telegram bot's webhook. Only private chats are read; a sender is "telegram:" and the chat's number.

The provider signs nothing: a secret token in a header says who calls. A refused update comes again for up to
a day. An edited text counts as a new one, since a crew mends a wrong depth that way. Replies are sent by
themselves, never in the hook's answer, where a failure could not be seen.
"""

import hashlib
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import ClassVar
from urllib.parse import quote, urlencode

from pydantic import BaseModel, SecretStr, ValidationError

from bot.channels import segments
from bot.channels.base import (
    AnswerOnDisk,
    BadHook,
    Channel,
    Hook,
    HookAnswer,
    HookContent,
    Image,
    NotFetched,
    Picture,
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
from bot.message import Reply

MOST_UNITS = 4096
"""UTF-16 units of one text."""


class _Chat(BaseModel):
    id: int
    type: str


class _File(BaseModel):
    file_id: str
    mime_type: str = ""


class _Said(BaseModel):
    chat: _Chat
    date: int
    edit_date: int | None = None
    text: str | None = None
    caption: str | None = None
    photo: tuple[_File, ...] = ()
    document: _File | None = None


class _Update(BaseModel):
    update_id: int
    message: _Said | None = None
    edited_message: _Said | None = None


class _Kept(BaseModel):
    class Path(BaseModel):
        file_path: str

    result: Path


class _Result(BaseModel):
    class Parameters(BaseModel):
        retry_after: float | None = None

    parameters: Parameters = Parameters()


class Telegram(Channel):
    """`POST /hook/telegram` with one update."""

    name: ClassVar[str] = "telegram"
    senders: ClassVar[str] = r"telegram:[0-9]{1,20}"
    secrets: SomeSecrets  # secret_token of setWebhook
    token: SecretStr  # the bot's own
    send_url: str = "https://api.telegram.org"

    def read(self, hook: Hook) -> HookContent:
        """A text with its picture; nothing for an update of another kind. Raises BadHook."""
        given = hook.headers.get("x-telegram-bot-api-secret-token", "")
        if not same_secret(given, [secret.get_secret_value() for secret in self.secrets]):
            raise BadHook(401, "the secret token is not right")
        try:
            update = validated(_Update, hook.body)
        except ValidationError:
            raise BadHook(400, "the body is not an update") from None
        said = update.message or update.edited_message
        if said is None or said.chat.type != "private":
            return HookContent()
        id_ = str(update.update_id)
        text = said.text or said.caption or ""
        sent_at = in_seconds(said.edit_date or said.date)
        # A picture, a file, a voice or a place has no text of its own, at most a caption.
        attached = said.text is None
        message = self.message(hook, id_, f"telegram:{said.chat.id}", text, sent_at, attached)
        # The same picture comes in several sizes, the largest last; one that is sent as a file in one.
        pictures = [Picture(id_, file.file_id, "image/jpeg") for file in said.photo[-1:]]
        if said.document and said.document.mime_type.startswith("image/"):
            pictures.append(Picture(id_, said.document.file_id, said.document.mime_type))
        return HookContent(messages=(message,), pictures=tuple(pictures))

    def answer(self, answered: Sequence[AnswerOnDisk]) -> HookAnswer:
        """Taken; the replies are in the outbox."""
        return HookAnswer()

    def parts(self, text: str) -> tuple[str, ...]:
        """Texts of at most 4096 UTF-16 units."""
        return segments.cut(text, _head)

    def request(self, reply: Reply, key: str, at: datetime) -> SendRequest | None:
        """A call of sendMessage. The url holds the bot's token."""
        said = _Send(chat_id=_chat(reply), text=reply.text)
        headers = {"Content-Type": "application/json"}
        return SendRequest("POST", self._url("sendMessage"), headers, said.model_dump_json().encode())

    def carries_pictures(self, linked: bool) -> bool:
        """Always: they are uploaded."""
        return True

    def picture_request(self, reply: Reply, image: Image) -> SendRequest | None:
        """A call of sendPhoto, the picture in its body."""
        # A boundary must not stand in what it bounds.
        boundary = hashlib.sha256(image.png).hexdigest()
        head = (
            f"--{boundary}\r\nContent-Disposition: form-data; name=chat_id\r\n\r\n{_chat(reply)}\r\n"
            f"--{boundary}\r\nContent-Disposition: form-data; name=caption\r\n\r\n{reply.text}\r\n"
            f"--{boundary}\r\nContent-Disposition: form-data; name=photo; filename=sketch.png\r\n"
            "Content-Type: image/png\r\n\r\n"
        )
        body = head.encode() + image.png + f"\r\n--{boundary}--\r\n".encode()
        headers = {"Content-Type": f"multipart/form-data; boundary={boundary}"}
        return SendRequest("POST", self._url("sendPhoto"), headers, body)

    def fetch(self, place: str) -> Steps:
        """A call of getFile says where the file is for the next hour. Both urls hold the bot's token."""
        told = handed_out(
            (yield SendRequest("GET", f"{self._url('getFile')}?{urlencode({'file_id': place})}"))
        )
        try:
            path = _Kept.model_validate_json(told).result.file_path
        except ValidationError:
            raise NotFetched("the provider does not say where it is", permanent=True) from None
        if ".." in path.split("/"):
            raise NotFetched("the provider does not say where it is", permanent=True)
        token = self.token.get_secret_value()
        return handed_out((yield SendRequest("GET", f"{self.send_url}/file/bot{token}/{quote(path)}")))

    def _url(self, call: str) -> str:
        return f"{self.send_url}/bot{self.token.get_secret_value()}/{call}"

    def sent(self, status: int, headers: Mapping[str, str], body: bytes) -> Sent:
        """As the status says; how long to wait is in the body."""
        sent = sent_by_status(status, headers, body)
        try:
            after = _Result.model_validate_json(body).parameters.retry_after
        except ValidationError:
            return sent
        return Sent(sent.ok, sent.permanent, sent.why, after_s=after)


class _Send(BaseModel):
    chat_id: int
    text: str


def _chat(reply: Reply) -> int:
    return int(reply.to.removeprefix("telegram:"))


def _head(text: str) -> str:
    return text.encode("utf-16-le")[: 2 * MOST_UNITS].decode("utf-16-le", "ignore")
