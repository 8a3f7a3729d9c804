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
from bot.office.job import job_rows
from bot.office.open_trenches import trench_status, trench_statuses
from bot.office.pages.today import mute
from bot.office.render import page
from bot.office.timeline import day_lines
from bot.office.waiting import questions
from bot.storage import log, pictures
from bot.storage.log import LogFilter
from bot.storage.pictures import KeptPicture
from knowledge.entry.inspection import inspections
from knowledge.record.trench import Trench

LATEST = 100  # exchanges on the page of a trench; the rest is on the log
MOST = 200  # trenches on their list
_CLOSED = """
    SELECT trenches.site, ref, trenches.rulebook, kit, turns.exchange, sent_at, turns.name
    FROM trenches JOIN turns ON turns.exchange = trenches.exchange
    WHERE open = 0 ORDER BY trenches.exchange DESC LIMIT ?
"""


async def show(request: web.Request) -> web.StreamResponse:
    """The page of one trench."""
    office = request.config_dict[OFFICE]
    trench, rows = await found(request, LATEST)
    site = office.people.site(trench.site)
    now = office.now

    def find(connection: ReadConnection) -> tuple[list[Alarm], BoardRow, list[KeptPicture]]:
        undelivered = alarms(connection.db, office.people, now)
        asked = questions(connection.db, office.people, now).get((trench.site, trench.ref), ())
        status = trench_status(trench, site, office.basis.tables, now, tuple(asked))
        mine = [each for each in undelivered if each.seen_to is None]
        seen = pictures.of_trench(connection.db, trench.site, trench.ref)
        return undelivered, row(connection.db, status, office, now, mine), seen

    undelivered, board_row, seen = await office.read(find)
    return page(
        request,
        "trench.html",
        alarms=undelivered,
        mute=mute(request),
        standing=board_row.status,
        now=now,
        day=shift(site),
        job=job_rows(trench, shift(site), office.now),
        rows=rows,
        inspections=inspections(trench, office.basis.tables)[::-1],
        sketch=drawn(trench, office),
        strips=strips_of(trench, site, office),
        lines=day_lines(trench, office.basis.tables, shift(site), office.now),
        row=board_row,
        pictures=seen,
    )


async def every(request: web.Request) -> web.StreamResponse:
    """The trenches, open ones first and in the order of the first page."""
    office = request.config_dict[OFFICE]
    now = office.now

    def find(connection: ReadConnection) -> tuple[list[BoardRow], list[dict[str, Any]]]:
        statuses = trench_statuses(connection, office, now)[:MOST]
        rows = [row(connection.db, each, office, now, []) for each in statuses]
        return rows, list(connection.db.query(_CLOSED, [MOST]))

    open_, closed = await office.read(find)
    return page(request, "trenches.html", open=open_, closed=closed, most=MOST, now=now)


async def of_site(request: web.Request) -> web.StreamResponse:
    """The open trenches of one site with what lies about them. Where they lie is not told: it is a list."""
    office, name = request.config_dict[OFFICE], request.match_info["site"]
    now = office.now
    if name not in {site.name for site in office.sites}:
        raise web.HTTPNotFound(text=f"There is no site {name}.")

    def find(connection: ReadConnection) -> list[BoardRow]:
        undelivered = [each for each in alarms(connection.db, office.people, now) if each.seen_to is None]
        of_here = [each for each in trench_statuses(connection, office, now) if each.site.name == name]
        return [row(connection.db, each, office, now, undelivered) for each in of_here]

    rows = await office.read(find)
    deepest = max((_depth(each) for each in rows), default=0.0)
    return page(
        request,
        "site_board.html",
        site=office.people.site(name),
        people=office.people.on_site(name),
        rows=rows,
        now=now,
        deepest=deepest,
        depth_of=_depth,
    )


def _depth(row: BoardRow) -> float:
    """The greater of dug and planned, for comparing."""
    return max(row.status.trench.now.dug_m or 0.0, row.planned_m or 0.0)


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
    web.get("/site/{site}", of_site),
    web.get("/trench/{site}/{ref}", show),
]
