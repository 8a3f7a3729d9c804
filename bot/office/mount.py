"""Puts the office into the web server under /office/."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

from aiohttp import web

from bot.clock import Clock
from bot.config.in_force import InForce
from bot.office.database import DESK, OfficeContext, Reader
from bot.office.guard import add_headers, guard
from bot.office.pages import (
    changes,
    crew,
    exchange,
    figures,
    live,
    log_list,
    reports,
    set_up,
    sign_in,
    take_away,
    today,
    trench,
    words,
)
from bot.office.pages.set_up import VERIFYING
from bot.office.saving import KEEPING, Keeping
from bot.storage.turns import Store
from bot.web.app import SHOP

FAMILIES = (
    sign_in, today, live, log_list, exchange, take_away, trench, reports, set_up, crew, figures, words,
    changes,
)  # fmt: skip
STATIC = Path(__file__).parent / "static"


def setup(app: web.Application, store: Store, file: Path, in_force: InForce, clock: Clock) -> None:
    """Mount the office. `file` is the one that `store` writes: pages read it on connections of their own."""
    office = web.Application(middlewares=[guard])
    read = Reader(file, in_force.books)
    desk = office[DESK] = OfficeContext(file, store.db, app[SHOP].submit, read, in_force, clock)
    office[KEEPING] = Keeping(desk, app[SHOP].use)
    watch = office[live.WATCH] = live.Watch(desk)
    office[VERIFYING] = asyncio.Semaphore(1)
    office[sign_in.ATTEMPTS] = sign_in.Attempts()
    for family in FAMILIES:
        office.add_routes(family.routes)
    office.router.add_static("/static/", STATIC)
    office.on_response_prepare.append(add_headers)

    async def run(_: web.Application) -> AsyncIterator[None]:
        yield
        read.stop()

    async def let_go(_: web.Application) -> None:
        await watch.end()

    async def to_office(_: web.Request) -> web.StreamResponse:
        raise web.HTTPSeeOther("/office/")

    office.cleanup_ctx.append(run)
    office.on_shutdown.append(let_go)
    app.add_routes([web.get("/", to_office), web.get("/office", to_office)])
    app.add_subapp("/office/", office)
