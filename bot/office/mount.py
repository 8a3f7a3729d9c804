"""Puts the office into the web server under /office/."""

import asyncio
from pathlib import Path

from aiohttp import web
from pydantic import SecretStr

from bot.clock import Clock
from bot.config.in_force import InForce
from bot.office import board_json
from bot.office.access import add_headers, check_access
from bot.office.context import OFFICE, DatabaseReader, OfficeContext
from bot.office.pages import (
    changes,
    crew,
    downloads,
    exchange,
    figures,
    live_updates,
    log_list,
    reports,
    set_up,
    sheet,
    sign_in,
    today,
    trench,
    words,
)
from bot.office.pages.set_up import VERIFYING
from bot.office.saving import SAVING, Saving
from bot.storage.turns import Store
from bot.web.app import HOOKS
from bot.web.openapi import BOARD

FAMILIES = (
    sign_in, today, live_updates, log_list, exchange, sheet, downloads, trench, reports, set_up, crew,
    figures, words, changes,
)  # fmt: skip
STATIC = Path(__file__).parent / "static"


def setup(
    app: web.Application,
    store: Store,
    file: Path,
    in_force: InForce,
    clock: Clock,
    board_secrets: tuple[SecretStr, ...] = (),
) -> None:
    """Mount the office. `file` is the one that `store` writes: pages read it on connections of their own. Who
    shows one of `board_secrets` may read the open trenches as JSON; without any nobody may."""
    pages = web.Application(middlewares=[check_access])
    read = DatabaseReader(file, in_force.basis)
    office = pages[OFFICE] = OfficeContext(file, store.db, app[HOOKS].submit, read, in_force, clock)
    pages[SAVING] = Saving(office, app[HOOKS].use)
    watch = pages[live_updates.WATCH] = live_updates.ChangeWatcher(office)
    pages[VERIFYING] = asyncio.Semaphore(1)
    pages[sign_in.ATTEMPTS] = sign_in.Attempts()
    for family in FAMILIES:
        pages.add_routes(family.routes)
    pages.router.add_static("/static/", STATIC)
    pages.on_response_prepare.append(add_headers)

    async def let_go(_: web.Application) -> None:
        await watch.end()

    async def to_office(_: web.Request) -> web.StreamResponse:
        raise web.HTTPSeeOther("/office/")

    app[HOOKS].before_close.append(read.stop)
    pages.on_shutdown.append(let_go)
    app.add_routes([web.get("/", to_office), web.get("/office", to_office)])
    if board_secrets:
        app.add_routes([web.get(BOARD, board_json.handler(office, board_secrets))])
    app.add_subapp("/office/", pages)
