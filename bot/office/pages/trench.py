"""One trench: how it stands, its sketch, its gauges over time, everything told about it; and all trenches."""

from typing import Any

from aiohttp import web
from markupsafe import Markup

from bot.dialogue.context import shift
from bot.drawing.sketch import sketch
from bot.message import Site
from bot.office.chart import chart, readings
from bot.office.context import OFFICE, OfficeContext, ReadConnection
from bot.office.job import job_rows
from bot.office.open_trenches import trench_status
from bot.office.render import page
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
    return page(
        request,
        "trench.html",
        standing=trench_status(trench, site, office.basis.tables, office.now),
        now=office.now,
        day=shift(site),
        job=job_rows(trench, shift(site), office.now),
        rows=rows,
        inspections=inspections(trench, office.basis.tables)[::-1],
        sketch=drawn(trench, office),
        chart=charted(trench, site),
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


def charted(trench: Trench, site: Site) -> Markup | None:
    """The chart of its gauges against the band of its last plan."""
    reads = readings(trench)
    return chart(reads, trench.plan, shift(site).zone) if reads and trench.plan else None


routes = [
    web.get("/trenches", every),
    web.get("/trench/{site}/{ref}", show),
]
