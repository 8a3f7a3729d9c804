"""One trench: how it stands, its sketch, its gauges over time, everything told about it; and all trenches."""

from typing import Any

from aiohttp import web
from markupsafe import Markup

from bot.dialogue.context import shift
from bot.drawing.sketch import sketch
from bot.message import Site
from bot.office.alarms import Alarm, alarms
from bot.office.board import BoardRow, row
from bot.office.chart import moments, readings, strips
from bot.office.context import OFFICE, OfficeContext, ReadConnection
from bot.office.open_trenches import trench_status
from bot.office.pages.today import mute
from bot.office.render import page
from bot.office.timeline import day_lines
from bot.office.waiting import questions
from bot.storage import log
from bot.storage.log import LogFilter
from knowledge.entry.inspection import inspections
from knowledge.record.trench import Trench

LATEST = 100  # exchanges on the page of a trench; the rest is on the log
MOST = 200  # trenches on their list
_TRENCHES = """
    SELECT trenches.site, ref, trenches.rulebook, kit, open, turns.exchange, sent_at
    FROM trenches JOIN turns ON turns.exchange = trenches.exchange
    ORDER BY open DESC, trenches.exchange DESC LIMIT ?
"""


async def show(request: web.Request) -> web.StreamResponse:
    """The page of one trench."""
    office = request.config_dict[OFFICE]
    trench, rows = await found(request, LATEST)
    site = office.people.site(trench.site)
    now = office.now

    def find(connection: ReadConnection) -> tuple[list[Alarm], BoardRow]:
        undelivered = alarms(connection.db, office.people, now)
        asked = questions(connection.db, office.people, now).get((trench.site, trench.ref), ())
        status = trench_status(trench, site, office.basis.tables, now, tuple(asked))
        mine = [each for each in undelivered if each.seen_to is None]
        return undelivered, row(connection.db, status, office, now, mine)

    undelivered, board_row = await office.read(find)
    return page(
        request,
        "trench.html",
        alarms=undelivered,
        mute=mute(request),
        standing=board_row.status,
        now=now,
        day=shift(site),
        rows=rows,
        inspections=inspections(trench, office.basis.tables)[::-1],
        sketch=drawn(trench, office),
        strips=strips_of(trench, site, office),
        lines=day_lines(trench, office.basis.tables, shift(site), office.now),
        row=board_row,
    )


async def every(request: web.Request) -> web.StreamResponse:
    """The trenches, open ones first."""
    office = request.config_dict[OFFICE]

    def find(connection: ReadConnection) -> list[dict[str, Any]]:
        return list(connection.db.query(_TRENCHES, [MOST]))

    return page(request, "trenches.html", trenches=await office.read(find), most=MOST)


async def found(request: web.Request, most: int) -> tuple[Trench, list[dict[str, Any]]]:
    """The trench of an address, and the latest exchanges about it. Raises HTTPNotFound."""
    site, ref = request.match_info["site"], request.match_info["ref"]

    def find(connection: ReadConnection) -> tuple[Trench | None, list[dict[str, Any]]]:
        rows = log.page(connection.db, LogFilter(site=site, trench=ref), most=most, columns=log.LISTED)
        return connection.records.find(site, ref), rows

    trench, rows = await request.config_dict[OFFICE].read(find)
    if trench is None:
        raise web.HTTPNotFound(text=f"There is no trench {ref} on site {site}.")
    return trench, rows


def drawn(trench: Trench, office: OfficeContext) -> Markup | None:
    """The sketch of its last plan."""
    kit = office.basis.tables.kits.get(trench.kit)
    if trench.plan is None or kit is None:
        return None
    return sketch(trench.plan, trench.now.whole, trench.now, kit.rail.length_m)


def strips_of(trench: Trench, site: Site, office: OfficeContext) -> list[Markup]:
    """A strip for each unit whose gauge was read, against the band of its last plan."""
    reads = readings(trench, office.basis.tables.entry)
    if not reads or not trench.plan:
        return []
    marked = moments(trench, inspections(trench, office.basis.tables))
    return strips(reads, trench.plan, shift(site).zone, marked)


routes = [
    web.get("/trenches", every),
    web.get("/trench/{site}/{ref}", show),
]
