"""A sketch for whoever has the link to it: a page, and the same as a PNG. Nobody signs in for it.

It shows one trench as it was told when the sketch was asked for, and nobody's name or number.
"""

import asyncio
import base64
import hashlib
import logging
import sqlite3
import time
from datetime import UTC, datetime
from functools import partial

from aiohttp import web
from markupsafe import Markup

from bot.delivery.rounds import Submit
from bot.drawing.links import Expired
from bot.drawing.png import NotDrawn, png
from bot.storage.sketches import Sketch, Sketches
from bot.storage.writer import Busy
from bot.web.rate_limit import PER_LINKS, Buckets

STYLE = Markup(
    "body{font:1.05rem/1.4 system-ui,sans-serif;margin:0 auto;padding:.5rem;max-width:34rem;color:#1c2528;"
    "background:#fff}h1{font-size:1.4rem}svg{width:100%;height:auto}"
    ".stale{border:.2rem solid #1c2528;padding:.6rem;font-weight:700}"
)
_STYLE_HASH = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
HEADERS = {
    "Content-Security-Policy": (
        f"default-src 'none'; style-src 'sha256-{_STYLE_HASH}'; base-uri 'none'; form-action 'none';"
        " frame-ancestors 'none'"
    ),
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow",
}
PAGE = Markup(
    '<!doctype html><html lang="en"><head><meta charset="utf-8">'
    '<meta name="viewport" content="width=device-width, initial-scale=1">'
    '<meta name="robots" content="noindex">'
    "<title>{title}</title><style>{style}</style></head><body><main><h1>{title}</h1>{body}</main></body></html>"
)
STALE = Markup(
    '<p class="stale">More was reported about {trench} since this was drawn. It may no longer hold: text'
    " “{trench} sketch” for a new one.</p>"
)
WRONG = "Broken link: part of it may be missing. Text “sketch” for a new one."
OVER = "Link expired. Text “sketch” for a new one."
GONE = "This sketch is not kept any more. Text “sketch” for a new one."
MANY = "Busy. Try again in a minute."
OURS = "The sketch cannot be shown just now. Work by what was texted, or ring your supervisor."

log = logging.getLogger("trenchword.sketch_page")


class _Refused(Exception):  # noqa: N818 - it says what became of the request
    def __init__(self, status: int, why: str) -> None:
        self.status, self.why = status, why


class SketchPage:
    """The two views of a sketch."""

    def __init__(self, sketches: Sketches, submit: Submit) -> None:
        self._sketches = sketches
        self._submit = submit
        self._limit = Buckets(PER_LINKS)

    async def show(self, request: web.Request) -> web.Response:
        """The page."""
        try:
            found = await self._find(request.match_info["token"])
        except _Refused as refused:
            return _page(refused.status, "No sketch", Markup("<p>{}</p>").format(refused.why))
        stale = STALE.format(trench=found.trench) if found.stale else Markup()
        return _page(200, f"Sketch of {found.trench}", stale + Markup(found.svg))

    async def picture(self, request: web.Request) -> web.Response:
        """The PNG."""
        try:
            found = await self._find(request.match_info["token"])
            drawn = await asyncio.to_thread(png, found.svg)
        except _Refused as refused:
            return web.Response(status=refused.status, text=refused.why, headers=HEADERS)
        except NotDrawn as error:
            log.error("no picture: %s", error)
            return web.Response(status=503, text=OURS, headers=HEADERS)
        return web.Response(body=drawn, content_type="image/png", headers=HEADERS)

    async def _find(self, token: str) -> Sketch:
        """Raises _Refused."""
        if not self._limit.takes("", time.monotonic()):
            raise _Refused(429, MANY)
        links = self._sketches.links
        try:
            exchange = links.exchange(token, datetime.now(UTC)) if links else None
        except Expired:
            raise _Refused(410, OVER) from None
        if exchange is None:
            raise _Refused(404, WRONG)
        try:
            found = await self._submit(partial(self._sketches.find, exchange))
        except (Busy, sqlite3.Error) as error:
            log.error("no sketch: %s: %s", type(error).__name__, error)
            raise _Refused(503, OURS) from error
        if found is None:
            raise _Refused(410, GONE)
        return found


def setup(app: web.Application, sketches: Sketches, submit: Submit) -> None:
    """Put the two views into the web server."""
    view = SketchPage(sketches, submit)
    app.add_routes([web.get("/sketch/{token}.png", view.picture), web.get("/sketch/{token}", view.show)])


def _page(status: int, title: str, body: Markup) -> web.Response:
    text = PAGE.format(title=title, style=STYLE, body=body)
    return web.Response(status=status, text=text, content_type="text/html", headers=HEADERS)
