"""How it is set up: people, sites, kits, users, and the head of the chain that proves the log whole."""

import asyncio
from typing import Any

from aiohttp import web

from bot.config import revisions
from bot.config.settings import MUTE, is_mute
from bot.config.shipped import PEOPLE
from bot.office import users
from bot.office.context import OFFICE, ReadConnection
from bot.office.render import page
from bot.storage import log, pictures
from bot.web.app import HOOKS


async def show(request: web.Request) -> web.StreamResponse:
    """The lists, as the service uses them now."""
    office = request.config_dict[OFFICE]

    def find(connection: ReadConnection) -> dict[str, Any]:
        last = connection.db.execute(
            "SELECT exchange, hash FROM turns ORDER BY exchange DESC LIMIT 1"
        ).fetchone()
        return {"last": last, "users": users.every(connection.db)}

    return page(
        request,
        "set_up.html",
        people=list(office.people),
        sites=office.sites,
        described={site.name for site in office.people.described},
        given=PEOPLE in office.in_force.shipped and bool(office.in_force.shipped[PEOPLE]),
        change=office.in_force.changed.get(PEOPLE),
        kits=office.basis.tables.kits,
        tables=office.basis.tables,
        mute=MUTE if is_mute(request.config_dict[HOOKS].channels) else "",
        **await office.read(find),
    )


async def verify(request: web.Request) -> web.StreamResponse:
    """Work the whole chain again; the first break is named. One at a time: a long log takes a while."""
    office = request.config_dict[OFFICE]
    async with request.config_dict[VERIFYING]:
        chain, saved, seen = await office.read(
            lambda connection: (
                log.verify(connection.db),
                revisions.verify(connection.db),
                pictures.verify(connection.db),
            )
        )
    return page(request, "verified.html", chain=chain, saved=saved, seen=seen)


VERIFYING = web.AppKey("verifying", asyncio.Semaphore)
routes = [web.get("/set-up", show), web.post("/set-up/verify", verify)]
