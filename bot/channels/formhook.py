"""A texting provider that posts forms and takes XML back, signed over url and fields (as Twilio does).

The signature covers the public url: `hook_url` must say it where a proxy stands in between. The scheme has
no time in it, so a recorded hook verifies for ever; its MessageSid is then known, and nothing changes.
Such a provider asks once more only when it cannot connect, so a refused text is lost to us.
"""

import base64
import hmac
import json
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import ClassVar
from urllib.parse import urlencode, urljoin, urlsplit
from xml.sax.saxutils import escape

from pydantic import SecretStr

from bot.channels import segments
from bot.channels.base import (
    E164,
    AnswerOnDisk,
    BadHook,
    Channel,
    Hook,
    HookAnswer,
    HookContent,
    Image,
    Names,
    Picture,
    Receipt,
    SendRequest,
    Sent,
    SomeSecrets,
    Steps,
    handed_out,
    same_secret,
    sent_by_status,
)
from bot.message import Message, Reply

MOST_CHARS = 1600
"""Characters of one text; the provider refuses a longer one."""
MOST_PICTURES = 10

# What is signed joins names and values with nothing between them: taken apart at other places it could be
# another text, of another sender. So every field but the text has a known name, and a shape in which no other
# can hide: none but the numbers, and the text, holds a plus, and what follows the text begins with a number.
_SID = r"[A-Z]{2}[0-9a-fA-F]{32}"
_NUMBER = r"\+[1-9][0-9]{1,14}|[A-Za-z0-9 ]{1,15}|"
_WORD = r"[A-Za-z_-]{0,40}"
_DIGITS = r"[0-9]{0,40}"
_PLAIN = r"[^+]{0,300}"
SHAPES = {
    **dict.fromkeys(("MessageSid", "AccountSid"), _SID),
    **dict.fromkeys(("SmsSid", "SmsMessageSid", "MessagingServiceSid"), f"{_SID}|"),
    "From": E164,
    "To": _NUMBER,
    "Body": r"(?s:.*)",
    **dict.fromkeys(("NumMedia", "NumSegments", "ErrorCode", "RawDlrDoneDate", "WaId"), _DIGITS),
    **dict.fromkeys(("MessageStatus", "SmsStatus", "OptOutType", "MessageType"), _WORD),
    **{f"{whose}{what}": _PLAIN for whose in ("From", "To") for what in ("City", "State", "Zip", "Country")},
    **dict.fromkeys(("ApiVersion", "ErrorMessage", "ProfileName"), _PLAIN),
    **{f"{what}{n}": _PLAIN for n in range(MOST_PICTURES) for what in ("MediaUrl", "MediaContentType")},
}

_STATES = {"delivered": True, "undelivered": False, "failed": False}


class Formhook(Channel):
    """`POST /hook/formhook` with From, Body and MessageSid; the answer is `<Response>`."""

    name: ClassVar[str] = "formhook"
    proves_sender: bool = False  # anybody can have any number written on an SMS
    secrets: SomeSecrets  # what the provider signs with
    hook_url: str = ""  # this hook as the provider reaches it, without a query
    send_url: str = ""  # as https://api.example/2010-04-01/Accounts/AC../Messages.json
    sender: str = ""  # the number that texts are sent from
    username: str = ""
    password: SecretStr = SecretStr("")
    more_fields: Names = ()  # that the provider sends besides those of SHAPES
    pictures: bool = False  # whether the sender's number carries them: most that carry SMS do not

    def read(self, hook: Hook) -> HookContent:
        """A message with its pictures, or a receipt. Raises BadHook."""
        if hook.method != "POST":
            raise BadHook(405, "forms are posted")
        form = hook.form()
        self._verify(hook, form)
        self._shaped(form)
        given = dict(reversed(form))
        if "MessageStatus" in given:
            return _receipt(given)
        id_ = given.get("MessageSid", "")
        places = [
            (given.get(f"MediaUrl{n}"), given.get(f"MediaContentType{n}", "")) for n in range(MOST_PICTURES)
        ]
        pictures = tuple(Picture(id_, place, kind) for place, kind in places if place)
        message = self.message(
            hook, id_, given.get("From", ""), given.get("Body", ""), None, attached=bool(pictures)
        )
        return HookContent(messages=(message,), pictures=pictures)

    def at_once(self, text: str) -> bool:
        """Only where no interface for sending is set up."""
        return not self.send_url

    def answer(self, answered: Sequence[AnswerOnDisk]) -> HookAnswer:
        """Each reply as one or more `<Message>`."""
        return self._say(*(each.reply for each in answered if self.at_once(each.reply)))

    def busy(self, message: Message, text: str) -> HookAnswer:
        """Said to the sender as a text: the provider would not ask again."""
        return self._say(text)

    def _say(self, *texts: str) -> HookAnswer:
        parts = "".join(f"<Message>{_xml(part)}</Message>" for text in texts for part in self.parts(text))
        body = f'<?xml version="1.0" encoding="UTF-8"?><Response>{parts}</Response>'
        return HookAnswer(content_type="text/xml; charset=utf-8", body=body.encode())

    def parts(self, text: str) -> tuple[str, ...]:
        """Texts of at most 1600 characters."""
        return segments.cut(text, lambda rest: rest[:MOST_CHARS])

    def request(self, reply: Reply, key: str, at: datetime) -> SendRequest | None:
        """A form post with basic authentication; a receipt names the text by the id given back here."""
        return self._call(reply) if self.send_url else None

    def carries_pictures(self, linked: bool) -> bool:
        """Where the number does, and the provider can fetch them."""
        return self.pictures and linked and bool(self.send_url)

    def picture_request(self, reply: Reply, image: Image) -> SendRequest | None:
        """The same post with the place of the picture, which the provider fetches."""
        if not self.carries_pictures(linked=bool(image.link)):
            return None
        return self._call(reply, {"MediaUrl": image.link})

    def _call(self, reply: Reply, more: Mapping[str, str] | None = None) -> SendRequest:
        fields = {"To": reply.to, "From": self.sender, "Body": reply.text, **(more or {})}
        if self.hook_url:
            fields["StatusCallback"] = self.hook_url
        headers = {"Content-Type": "application/x-www-form-urlencoded", **self._login}
        return SendRequest("POST", self.send_url, headers, urlencode(fields).encode())

    def fetch(self, place: str) -> Steps:
        """The place with basic authentication; where that leads on to another host, that one without."""
        ours = urlsplit(place)[:2] == urlsplit(self.send_url)[:2]
        answer = yield SendRequest("GET", place, self._login if ours else {})
        if answer.status in (301, 302, 303, 307, 308):
            answer = yield SendRequest("GET", urljoin(place, answer.headers.get("location", "")))
        return handed_out(answer)

    @property
    def _login(self) -> dict[str, str]:
        login = f"{self.username}:{self.password.get_secret_value()}".encode()
        return {"Authorization": f"Basic {base64.b64encode(login).decode()}"}

    def sent(self, status: int, headers: Mapping[str, str], body: bytes) -> Sent:
        """As the status says; the id of the text is in the body."""
        sent = sent_by_status(status, headers, body)
        return Sent(ok=True, ref=_sid(body)) if sent.ok else sent

    def _shaped(self, form: Sequence[tuple[str, str]]) -> None:
        """Raises BadHook for a form that could have been taken apart in another way."""
        names = [name for name, _ in form]
        for name, value in form:
            shape = SHAPES.get(name) or (_PLAIN if name in self.more_fields else None)
            if shape is None or names.count(name) > 1:
                raise BadHook(400, f"a field that is not known, or comes twice: {name[:40]!r}")
            if re.fullmatch(shape, value) is None:
                raise BadHook(400, f"{name} is not of its shape", name)

    def _verify(self, hook: Hook, form: Sequence[tuple[str, str]]) -> None:
        query = hook.url.partition("?")[1:]
        url = self.hook_url + "".join(query) if self.hook_url else hook.url
        signed = url + "".join(name + value for name, value in sorted(set(form)))
        settings = hook.headers.get("x-twilio-webhooks-signature-settings", "")
        digest = "sha256" if "algorithm=hmac_sha256" in settings.lower() else "sha1"
        good = [
            base64.b64encode(
                hmac.digest(secret.get_secret_value().encode(), signed.encode("utf-8", "replace"), digest)
            ).decode()
            for secret in self.secrets
        ]
        if not same_secret(hook.headers.get("x-twilio-signature", ""), good):
            raise BadHook(401, "the signature is not right")


def _receipt(given: Mapping[str, str]) -> HookContent:
    delivered = _STATES.get(given["MessageStatus"])
    if delivered is None:
        return HookContent()
    return HookContent(
        receipts=(Receipt(given.get("MessageSid", ""), delivered, given.get("ErrorCode", "")[:200]),)
    )


def _sid(body: bytes) -> str:
    try:
        return str(json.loads(body)["sid"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return ""


def _xml(text: str) -> str:
    # XML 1.0 has no place for these, not even escaped.
    return escape(re.sub("[\x00-\x08\x0b-\x1f\ufffe\uffff]", "", text))
