"""Two phones in the browser, for the demo alone: they text the running service over its JSON hook.

What it sends by its outbox arrives on them. Whoever opens the page texts as the invented crew.
"""

import json
import secrets
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from ipaddress import ip_address
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from aiohttp import ClientError, ClientSession, web

from bot.channels.base import same_secret
from bot.demo.phones import Phones
from bot.drawing.photograph import MOST_BYTES

PAGE = Path(__file__).parent / "phone_page"
MOST_KEPT = 500  # texts that the phones remember
MOST_TEXT = 2000
MOST_PICTURES = 20  # that are held: the service has its own by then
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self';"
        " base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow",
}
FILES = {
    "": ("phone.html", "text/html"),
    "phone.css": ("phone.css", "text/css"),
    "phone.js": ("phone.js", "text/javascript"),
}


@dataclass
class PhonePage:
    """What stands on the phones. `url` is the service's own, `token` what its outbox knows the page by."""

    phones: Phones
    url: str
    token: str
    next_ref: Callable[[], Awaitable[str]]
    texts: list[dict[str, Any]] = field(default_factory=list)
    came: int = 0
    pictures: dict[str, bytes] = field(default_factory=dict)  # by names that nobody can foretell

    def put(self, number: str, text: str, *, own: bool, alert: bool = False, picture: str = "") -> None:
        """One more text on the phone of that number."""
        self.came += 1
        at = datetime.now(UTC).isoformat()
        self.texts.append(
            {"n": self.came, "phone": number, "text": text, "own": own, "alert": alert, "at": at}
            | ({"picture": picture} if picture else {})
        )
        del self.texts[:-MOST_KEPT]

    async def file(self, request: web.Request) -> web.StreamResponse:
        """The page and what it is made of."""
        found = FILES.get(request.match_info.get("file", ""))
        if found is None:
            raise web.HTTPNotFound
        name, kind = found
        return web.Response(
            text=(PAGE / name).read_text(encoding="utf-8"), content_type=kind, headers=HEADERS
        )

    async def crew(self, request: web.Request) -> web.StreamResponse:
        """Whose phones these are, and the stories; `{ref}` in them is a trench that is not there yet."""
        people = [
            {"number": each.number, "name": each.name, "role": each.role, "site": each.site}
            for each in self.phones.people
        ]
        stories = [story.model_dump() for story in self.phones.stories]
        return web.json_response({"people": people, "stories": stories}, headers=HEADERS)

    async def ref(self, request: web.Request) -> web.StreamResponse:
        """A trench reference that is not in use."""
        return web.json_response({"ref": await self.next_ref()}, headers=HEADERS)

    async def news(self, request: web.Request) -> web.StreamResponse:
        """The texts that came after the one of that number."""
        after = request.query.get("after", "0")
        if not (after.isascii() and after.isdigit() and len(after) < 16):
            raise web.HTTPBadRequest(text="after is no number")
        return web.json_response([each for each in self.texts if each["n"] > int(after)], headers=HEADERS)

    async def send(self, request: web.Request) -> web.StreamResponse:
        """Text the service as one of the two; the answer stands on their phone."""
        _only_from_here(request)
        try:
            given = await request.json()
            number, text = str(given["from"]), str(given["text"])[:MOST_TEXT]
            picture = str(given.get("picture", ""))
        except (ValueError, KeyError, TypeError, AttributeError):
            raise web.HTTPBadRequest(text="from and text are needed") from None
        if number not in {each.number for each in self.phones.people}:
            raise web.HTTPForbidden(text="this is none of the two phones")
        if picture and picture not in self.pictures:
            raise web.HTTPBadRequest(text="there is no such picture")
        place = f"/phone/picture/{picture}" if picture else ""
        self.put(number, text, own=True, picture=place)
        now = datetime.now(UTC).isoformat()
        id_ = f"phone-{secrets.token_hex(8)}"
        message: dict[str, Any] = {"id": id_, "from": number, "text": text, "sent_at": now}
        message |= {"pictures": [f"{self.url}{place}"]} if picture else {}
        try:
            async with (
                ClientSession() as session,
                session.post(f"{self.url}/hook/json", data=json.dumps(message)) as response,
            ):
                answer = await response.json(content_type=None)
        except (ClientError, TimeoutError, ValueError):
            answer = {"error": "No answer. Do not go in. Ring your supervisor."}
        said = str(answer.get("reply", answer.get("error", "")))
        if said:
            self.put(number, said, own=False)
        return web.json_response({"exchange": answer.get("exchange")}, headers=HEADERS)

    async def take_picture(self, request: web.Request) -> web.StreamResponse:
        """Hold a picture that one of them is about to send. Its name."""
        _only_from_here(request)
        held = bytearray()
        async for block in request.content.iter_chunked(1 << 16):
            held += block
            if len(held) > MOST_BYTES:
                raise web.HTTPRequestEntityTooLarge(MOST_BYTES, len(held))
        name = secrets.token_urlsafe(16)
        self.pictures[name] = bytes(held)
        while len(self.pictures) > MOST_PICTURES:
            del self.pictures[next(iter(self.pictures))]
        return web.json_response({"picture": name}, headers=HEADERS)

    async def picture(self, request: web.Request) -> web.StreamResponse:
        """One that is held, for the page and for the service."""
        held = self.pictures.get(request.match_info["name"])
        if held is None:
            raise web.HTTPNotFound
        return web.Response(body=held, content_type="image/jpeg", headers=HEADERS)

    async def arrive(self, request: web.Request) -> web.StreamResponse:
        """What the outbox sends: alerts, codes, reminders."""
        if not same_secret(request.match_info["token"], [self.token]):
            raise web.HTTPNotFound
        try:
            given = await request.json()
            to, text = str(given["to"]), str(given["text"])
        except (ValueError, KeyError, TypeError):
            raise web.HTTPBadRequest(text="to and text are needed") from None
        self.put(to, text, own=False, alert=True)
        return web.Response()


def setup(app: web.Application, page: PhonePage) -> None:
    """Put the phones into the web server."""
    app.add_routes(
        [
            web.get("/phone", _to_page),
            web.get("/phone/", page.file),
            web.get("/phone/crew", page.crew),
            web.get("/phone/ref", page.ref),
            web.get("/phone/news", page.news),
            web.post("/phone/send", page.send),
            web.post("/phone/picture", page.take_picture),
            web.get("/phone/picture/{name}", page.picture),
            web.post("/phone/inbox/{token}", page.arrive),
            web.get("/phone/{file}", page.file),
        ]
    )


async def _to_page(_: web.Request) -> web.StreamResponse:
    raise web.HTTPSeeOther("/phone/")


def _only_from_here(request: web.Request) -> None:
    """Texts come from the page itself: no other site's page may send them. Raises HTTPForbidden."""
    host = urlsplit(f"//{request.host}").hostname or ""
    try:
        local = host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        local = False
    if not local or request.headers.get("Origin") != f"http://{request.host}":
        raise web.HTTPForbidden(text="only the page of the phones may send these")
