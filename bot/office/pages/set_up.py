"""What is kept: people, sites, kits, users, and the head of the chain that proves the log whole."""

import asyncio
from typing import Any

from aiohttp import web

from bot.config import revisions
from bot.config.shipped import PEOPLE
from bot.office import users
from bot.office.database import DESK, ReadConnection
from bot.office.render import page
from bot.storage import log


async def show(request: web.Request) -> web.StreamResponse:
    """The lists, as the service uses them now."""
    desk = request.config_dict[DESK]

    def find(shelf: ReadConnection) -> dict[str, Any]:
        last = shelf.db.execute("SELECT exchange, hash FROM turns ORDER BY exchange DESC LIMIT 1").fetchone()
        return {"last": last, "users": users.every(shelf.db)}

    return page(
        request,
        "set_up.html",
        people=list(desk.people),
        sites=desk.sites,
        described={site.name for site in desk.people.described},
        given=PEOPLE in desk.kept.shipped and bool(desk.kept.shipped[PEOPLE]),
        change=desk.kept.changed.get(PEOPLE),
        kits=desk.books.tables.kits,
        tables=desk.books.tables,
        **await desk.read(find),
    )


async def verify(request: web.Request) -> web.StreamResponse:
    """Work the whole chain again; the first break is named. One at a time: a long log takes a while."""
    desk = request.config_dict[DESK]
    async with request.config_dict[VERIFYING]:
        chain, saved = await desk.read(lambda shelf: (log.verify(shelf.db), revisions.verify(shelf.db)))
    return page(request, "verified.html", chain=chain, saved=saved)


VERIFYING = web.AppKey("verifying", asyncio.Semaphore)
routes = [web.get("/set-up", show), web.post("/set-up/verify", verify)]
