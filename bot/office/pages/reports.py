"""What is handed to others: inspection report, trench file, kit list for a day, summary of a week."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from aiohttp import web

from bot.dialogue.context import shift
from bot.message import Site
from bot.office.context import OFFICE, OfficeContext, ReadConnection
from bot.office.job import job_rows
from bot.office.open_trenches import open_trenches, trench_status
from bot.office.pages.trench import charted, drawn, found
from bot.office.render import field, page, plain
from bot.office.week import week
from knowledge.entry.inspection import inspection_report, inspections
from knowledge.outcome import OUTCOME_KINDS
from knowledge.reading import Details
from knowledge.record.trench import Event, Trench, rebuild
from knowledge.sizing.load_list import LoadList, load_list
from knowledge.tables.load import Tables

WEEK = timedelta(days=7)
OF_PLACE = ("depth_m", "width_m", "length_m", "soil", "water", "ends")
WHOLE_FILE = 5000  # exchanges of one trench in its file


@dataclass(frozen=True)
class SiteLoad:
    """What to load for the trenches of one site that are sized with one kit."""

    site: Site
    kit: str
    trenches: tuple[Trench, ...]
    list: LoadList


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
    return page(
        request,
        "inspection.html",
        report=report,
        place=_told(report.details, OF_PLACE),
        measures=_told,
        kit=kit.title if kit else report.kit,
        day=day,
        now=office.now,
    )


async def trench_file(request: web.Request) -> web.StreamResponse:
    """Everything on one trench, for printing; with `at`, as it stood at that moment."""
    office = request.config_dict[OFFICE]
    trench, rows = await found(request, WHOLE_FILE)
    site = office.people.site(trench.site)
    if moment := _moment(request):
        known = tuple(event for event in trench.events if event.heard <= moment)
        trench = rebuild(
            trench.ref, trench.site, trench.rulebook, trench.kit, _as_they_came(known), office.basis.tables
        )
        rows = [row for row in rows if datetime.fromisoformat(row["sent_at"]) <= moment]
    now = moment or office.now
    texts = await office.read(lambda connection: _texts(connection, [row["exchange"] for row in rows]))
    return page(
        request,
        "trench_file.html",
        standing=trench_status(trench, site, office.basis.tables, now),
        now=now,
        as_at=moment,
        texts=texts,
        day=shift(site),
        rows=rows[::-1],
        job=job_rows(trench, shift(site), now),
        sketch=drawn(trench, office),
        chart=charted(trench, site),
        inspections=inspections(trench, office.basis.tables),
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
    return page(
        request,
        "kit_list.html",
        loads=_loads(wanted, office.basis.tables),
        sized=sized,
        wanted=wanted,
        unsized=[trench for _, trench in open_ if not trench.now.holds],
        now=office.now,
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
    return page(request, "week.html", week=found_, monday=monday, days=days, step=WEEK, kinds=OUTCOME_KINDS)


def _told(details: Details, always: tuple[str, ...] = ()) -> list[tuple[str, str]]:
    """Details as told, each by its name; "" for one that is `always` named and that nobody told."""
    told = details.model_dump(mode="json", exclude_defaults=True)
    names = dict.fromkeys((*always, *told))
    return [(field(name).removesuffix(" (m)"), _measured(name, told.get(name))) for name in names]


def _measured(name: str, value: object) -> str:
    return f"{plain(value)} m" if name.endswith("_m") and value is not None else plain(value)


def _loads(trenches: list[tuple[Site, Trench]], tables: Tables) -> list[SiteLoad]:
    together: dict[tuple[Site, str], list[Trench]] = {}
    for site, trench in trenches:
        together.setdefault((site, trench.kit), []).append(trench)
    loads = []
    for (site, name), each in together.items():
        kit, sized = tables.kits[name], [(t.plan, t.now.whole) for t in each if t.plan]
        loads.append(SiteLoad(site, kit.title, tuple(each), load_list(sized, kit, tables.lifting)))
    return loads


def _monday(office: OfficeContext) -> date:
    today = office.now.astimezone(office.zone).date()
    return today - timedelta(days=today.weekday())


routes = [
    web.get("/reports", choose),
    web.get("/reports/kit", kit_list),
    web.get("/reports/week", weekly),
    web.get("/trench/{site}/{ref}/file", trench_file),
    web.get("/trench/{site}/{ref}/inspection", inspection),
]
