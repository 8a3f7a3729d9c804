"""What is handed to others: inspection report, trench file, kit list for a day, summary of a week."""

import asyncio
import logging
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, cast
from urllib.parse import quote, urlencode

from aiohttp import web

from bot.dialogue.context import shift
from bot.message import Site
from bot.office.context import OFFICE, OfficeContext, ReadConnection
from bot.office.job import job_rows, open_run
from bot.office.open_trenches import TrenchStatus, open_trenches, trench_status
from bot.office.pages.trench import drawn, found, strips_of
from bot.office.pdf import SIZES, NotLaidOut, PaperSize, pdf
from bot.office.render import field, page, plain
from bot.office.timeline import day_lines
from bot.office.week import week
from bot.storage.turns import moment
from knowledge.entry.inspection import inspection_report, inspections
from knowledge.outcome import OUTCOME_KINDS, Sized
from knowledge.reading import Details
from knowledge.record.trench import Event, Trench, rebuild
from knowledge.sizing.load_list import LoadList, load_list
from knowledge.tables.load import Tables

WEEK = timedelta(days=7)
OF_PLACE = ("depth_m", "width_m", "length_m", "soil", "water", "ends")
STYLE = Path(__file__).parents[1] / "static" / "office.css"
NO_PDF = "The PDF could not be made: WeasyPrint needs Pango on this machine. Print the page instead."
WHOLE_FILE = 5000  # exchanges of one trench in its file

log = logging.getLogger("trenchword.office")


@dataclass(frozen=True)
class SiteLoad:
    """What to load for the trenches of one site that are sized with one kit."""

    site: Site
    kit: str
    trenches: tuple[Trench, ...]
    list: LoadList
    standing: tuple[tuple[Trench, int], ...]  # units reported set, which are not on the list


async def as_pdf(request: web.Request, template: str, name: str, **data: Any) -> web.StreamResponse:
    """A paper as a PDF, on the paper that was asked for."""
    size = request.query.get("paper", "A4")
    if size not in SIZES:
        raise web.HTTPBadRequest(text=f"A paper is one of {', '.join(SIZES)}.")
    html = page(request, template, **data).text or ""
    try:
        made = await asyncio.to_thread(pdf, html, STYLE.read_text(encoding="utf-8"), cast(PaperSize, size))
    except NotLaidOut as error:
        log.error("no pdf: %s", error)
        raise web.HTTPServiceUnavailable(text=NO_PDF) from error
    response = web.Response(body=made, content_type="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


def _wants_pdf(request: web.Request) -> bool:
    return request.path.endswith(".pdf")


async def _paper(request: web.Request, template: str, name: str, **data: Any) -> web.StreamResponse:
    """The page, or the same as a PDF where the address says so."""
    if _wants_pdf(request):
        return await as_pdf(request, template, name, **data)
    return page(request, template, **data)


async def choose(request: web.Request) -> web.StreamResponse:
    """Which report."""
    office = request.config_dict[OFFICE]
    open_ = await office.read(lambda connection: open_trenches(connection, office))
    made = [(trench, event) for _, trench in open_ for event in inspections(trench, office.basis.tables)]
    made.sort(key=lambda each: each[1].at, reverse=True)
    return page(request, "reports.html", inspections=made[:50], open=open_, week=_monday(office), step=WEEK)


async def inspection(request: web.Request) -> web.StreamResponse:
    """The report on one inspection, with the particulars of CDM 2015 reg 24(1)(b)."""
    office = request.config_dict[OFFICE]
    trench, _ = await found(request, 1)
    tables, site = office.basis.tables, office.people.site(trench.site)
    wanted = request.query.get("at", "")
    event = next((e for e in inspections(trench, tables) if e.at.isoformat() == wanted), None)
    if event is None:
        raise web.HTTPNotFound(text=f"{trench.ref} has no inspection of that time.")
    day = shift(site)
    made_for = site.client, site.client_address
    report = inspection_report(trench, event, tables, day, made_for, site.address)
    kit = tables.kits.get(report.kit)
    at = trench.events.index(event)
    exchange = await office.read(lambda connection: _exchange_of(connection, trench, event))
    return await _paper(
        request,
        "inspection.html",
        _named("inspection", trench),
        report=report,
        place=_told(report.details, OF_PLACE),
        run=open_run(trench.states[at]),
        measures=_told,
        kit=kit.title if kit else report.kit,
        day=day,
        now=office.now,
        event=event,
        exchange=exchange,
        gauges_read=sorted(trench.states[at].shores.gauges.items()),
        since=since_then(trench, at),
        counts=_still_counts(trench, event, trench_status(trench, site, tables, office.now)),
        cause=trench.now.inspection_cause,
        address=f"/office/trench/{quote(trench.site, safe='')}/{quote(trench.ref, safe='')}/inspection",
        stamp=tables.stamp,
    )


def since_then(trench: Trench, place: int) -> list[tuple[Event, tuple[str, ...]]]:
    """What was told after an inspection that bears on it: each message that opened a hazard or a stop, or was
    not understood, with what it opened."""
    found = []
    pairs = zip(trench.events, trench.states, strict=True)
    for event, state in list(pairs)[place + 1 :]:
        opened = [each.kind for each in state.hazards if each.said.event == event.id]
        opened += ["possible danger" for each in state.possible if each.said.event == event.id]
        opened += ["stopped" for each in state.stopped if each.said.event == event.id]
        opened += ["not understood" for each in state.open_texts if each.said.event == event.id]
        if opened:
            found.append((event, tuple(dict.fromkeys(opened))))
    return found


def _still_counts(trench: Trench, event: Event, status: TrenchStatus) -> bool:
    """Whether this inspection is the one on record, and nothing calls for another."""
    said = trench.now.inspected
    lacking = {gap.missing.fact for gap in status.gaps}
    return said is not None and said.event == event.id and "inspection" not in lacking


def _exchange_of(connection: ReadConnection, trench: Trench, event: Event) -> int | None:
    row = connection.db.execute(
        "SELECT exchange FROM turns WHERE site = ? AND sender = ? AND sent_at = ? ORDER BY exchange LIMIT 1",
        (trench.site, event.number, moment(event.at)),
    ).fetchone()
    return int(row[0]) if row else None


async def trench_file(request: web.Request) -> web.StreamResponse:
    """Everything on one trench, for printing; with `at`, as it stood at that moment."""
    office = request.config_dict[OFFICE]
    trench, rows = await found(request, WHOLE_FILE)
    site = office.people.site(trench.site)
    if asked := _moment(request):
        known = tuple(event for event in trench.events if event.heard <= asked)
        trench = rebuild(
            trench.ref, trench.site, trench.rulebook, trench.kit, _as_they_came(known), office.basis.tables
        )
        rows = [row for row in rows if datetime.fromisoformat(row["sent_at"]) <= asked]
    now = asked or office.now
    texts = await office.read(lambda connection: _texts(connection, [row["exchange"] for row in rows]))
    return await _paper(
        request,
        "trench_file.html",
        _named("trench", trench),
        standing=trench_status(trench, site, office.basis.tables, now),
        now=now,
        as_at=asked,
        texts=texts,
        day=shift(site),
        rows=rows[::-1],
        job=job_rows(trench, shift(site), now),
        sketch=drawn(trench, office),
        strips=strips_of(trench, site, office),
        inspections=inspections(trench, office.basis.tables),
        lines=day_lines(trench, office.basis.tables, shift(site), office.now),
        stamp=office.basis.tables.stamp,
    )


def _moment(request: web.Request) -> datetime | None:
    """The moment asked for, with its zone. Raises HTTPBadRequest where it cannot be read."""
    if "at" not in request.query:
        return None
    try:
        return datetime.fromisoformat(request.query["at"].replace(" ", "+")).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise web.HTTPBadRequest(text="A moment is written as 2026-11-25T10:30Z.") from error


def _as_they_came(events: tuple[Event, ...]) -> list[Event]:
    return sorted(events, key=lambda event: event.came or 0)


def _texts(connection: ReadConnection, exchanges: list[int]) -> list[dict[str, Any]]:
    """Who was sent what because of these exchanges, when, and whether it arrived."""
    found: list[dict[str, Any]] = []
    for exchange in exchanges:
        found += connection.db.query(
            "SELECT ? AS exchange, recipient, why, made_at, state, problem FROM outbox"
            " WHERE key > ? AND key < ? AND why != '' ORDER BY place",
            [exchange, f"{exchange}-", f"{exchange}."],
        )
    return found


async def kit_list(request: web.Request) -> web.StreamResponse:
    """What to load for the chosen trenches, or for all that are open and sized."""
    office, chosen = request.config_dict[OFFICE], request.query.getall("trench", [])
    open_ = await office.read(lambda connection: open_trenches(connection, office))
    sized = [(site, trench) for site, trench in open_ if trench.now.holds]
    wanted = [each for each in sized if not chosen or f"{each[0].name}/{each[1].ref}" in chosen]
    return await _paper(
        request,
        "kit_list.html",
        "kit-list",
        loads=_loads(wanted, office.basis.tables),
        sized=sized,
        wanted=wanted,
        all_set=[each for each in sized if still_to_set(each[1]) is None],
        unsized=[trench for _, trench in open_ if not trench.now.holds],
        now=office.now,
        query=urlencode({"trench": chosen}, doseq=True),
    )


async def weekly(request: web.Request) -> web.StreamResponse:
    """A week's exchanges, by day and kind, and what was dangerous in it."""
    office = request.config_dict[OFFICE]
    try:
        day = date.fromisoformat(request.query["week"]) if "week" in request.query else _monday(office)
        monday = day - timedelta(days=day.weekday())
        begin = datetime.combine(monday, time(), office.zone)
        found_ = await office.read(lambda connection: week(connection.db, begin))
    except (ValueError, OverflowError) as error:
        raise web.HTTPBadRequest(text="A week is named by a day of it, as 2026-11-25.") from error
    days = [monday + timedelta(days=n) for n in range(7)]
    return await _paper(
        request,
        "week.html",
        f"week-{monday.isoformat()}",
        week=found_,
        monday=monday,
        days=days,
        step=WEEK,
        kinds=OUTCOME_KINDS,
    )


def _named(what: str, trench: Trench) -> str:
    """A name that every system of files takes."""
    return re.sub(r"[^A-Za-z0-9-]+", "-", f"{what}-{trench.site}-{trench.ref}")


def _told(details: Details, always: tuple[str, ...] = ()) -> list[tuple[str, str]]:
    """Details as told, each by its name; "" for one that is `always` named and that nobody told."""
    told = details.model_dump(mode="json", exclude_defaults=True)
    names = dict.fromkeys((*always, *told))
    return [(field(name).removesuffix(" (m)"), _measured(name, told.get(name))) for name in names]


def _measured(name: str, value: object) -> str:
    return f"{plain(value)} m" if name.endswith("_m") and value is not None else plain(value)


def _loads(trenches: list[tuple[Site, Trench]], tables: Tables) -> list[SiteLoad]:
    """What is still to be loaded: units that are reported set stand in the ground already."""
    together: dict[tuple[Site, str], list[Trench]] = {}
    for site, trench in trenches:
        together.setdefault((site, trench.kit), []).append(trench)
    loads = []
    for (site, name), each in together.items():
        kit = tables.kits[name]
        left = [(plan, trench) for trench in each if (plan := still_to_set(trench)) is not None]
        if left:
            sized = [(plan, trench.now.whole) for plan, trench in left]
            there = tuple((t, t.now.shores.standing) for t in each if t.plan and t.plan.units is not None)
            made = load_list(sized, kit, tables.lifting)
            loads.append(
                SiteLoad(
                    site,
                    kit.title,
                    tuple(trench for _, trench in left),
                    made,
                    tuple(n for n in there if n[1]),
                )
            )
    return loads


def still_to_set(trench: Trench) -> Sized | None:
    """The plan with the units that are not reported set; None where none is left, or there is no plan.

    Of a trench whose length is not told a whole run is listed, whatever of it is set.
    """
    plan, shores = trench.plan, trench.now.shores
    if plan is None or plan.units is None:
        return plan
    left = plan.units - min(shores.standing, plan.units)
    return plan.model_copy(update={"units": left}) if left else None


def _monday(office: OfficeContext) -> date:
    today = office.now.astimezone(office.zone).date()
    return today - timedelta(days=today.weekday())


routes = [
    web.get("/reports", choose),
    web.get("/reports/kit", kit_list),
    web.get("/reports/kit.pdf", kit_list),
    web.get("/reports/week", weekly),
    web.get("/reports/week.pdf", weekly),
    web.get("/trench/{site}/{ref}/file", trench_file),
    web.get("/trench/{site}/{ref}/file.pdf", trench_file),
    web.get("/trench/{site}/{ref}/inspection", inspection),
    web.get("/trench/{site}/{ref}/inspection.pdf", inspection),
]
