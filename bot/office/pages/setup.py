"""What is kept: people, sites, kits, users, and the head of the chain that proves the log whole."""

import asyncio
from typing import Any

from aiohttp import web

from bot import changes, log
from bot.files import PEOPLE
from bot.office import users
from bot.office.desk import DESK, Shelf
from bot.office.paper import page


async def show(request: web.Request) -> web.StreamResponse:
    """The lists, as the service uses them now."""
    desk = request.config_dict[DESK]

    def find(shelf: Shelf) -> dict[str, Any]:
        last = shelf.db.execute("SELECT exchange, hash FROM turns ORDER BY exchange DESC LIMIT 1").fetchone()
        return {"last": last, "users": users.every(shelf.db)}

    return page(
        request,
        "kept.html",
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
        chain, saved = await desk.read(lambda shelf: (log.verify(shelf.db), changes.verify(shelf.db)))
    return page(request, "verified.html", chain=chain, saved=saved)


VERIFYING = web.AppKey("verifying", asyncio.Semaphore)
routes = [web.get("/kept", show), web.post("/kept/verify", verify)]
