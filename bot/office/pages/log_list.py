"""The log: every exchange newest first, found by words, trench, sender, site, what it is about, and dates."""

from dataclasses import asdict
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Any, get_args
from urllib.parse import quote, urlencode

from aiohttp import web

from bot.office.context import OFFICE, OfficeContext, ReadConnection
from bot.office.render import page
from bot.storage import log
from bot.storage.log import LogFilter
from bot.storage.turns import moment
from knowledge.outcome import OUTCOME_KINDS
from knowledge.sourced import Rulebook

PAGE = 50
MOST_COUNTED = 1000  # exchanges; of more it is said that there are more
LOOKED_AT = 300  # of the newest, for what they are about


async def show(request: web.Request) -> web.StreamResponse:
    """One page of the log. The next one begins where this one ends: none is skipped or shown twice."""
    office = request.config_dict[OFFICE]
    asked = asked_for(request)
    wanted, before = to_filter(asked, office), _number(request.query.get("before", ""))

    def find(connection: ReadConnection) -> tuple[list[dict[str, Any]], int, dict[str, int]]:
        db = connection.db
        rows = log.page(db, wanted, before, PAGE + 1, log.LISTED, hits=True)
        return rows, log.count(db, wanted, MOST_COUNTED), log.about(db, wanted, LOOKED_AT)

    rows, total, chips = await office.read(find)
    more = rows[PAGE - 1]["exchange"] if len(rows) > PAGE else None
    return page(
        request,
        "log.html",
        asked=asked,
        rows=rows[:PAGE],
        total=total,
        most=MOST_COUNTED,
        looked_at=LOOKED_AT,
        chips=[
            (about, n, urlencode({**asked, "about": about}), asked.get("about") == about)
            for about, n in chips.items()
        ],
        without=urlencode({name: value for name, value in asked.items() if name != "about"}),
        saved=saved(office),
        query=urlencode(asked),
        older=urlencode({**asked, "before": more}) if more else "",
        later=before is not None,
        kinds=OUTCOME_KINDS,
        rulebooks=get_args(Rulebook),
        people=list(office.people),
        sites=office.sites,
    )


def saved(office: OfficeContext) -> list[tuple[str, str]]:
    """What is asked for again and again, as links that can be kept."""
    today = office.now.astimezone(office.zone).date()
    week = (today - timedelta(days=7)).isoformat()
    wanted = (
        ("Hazards, last 7 days", {"about": "hazard", "since": week}),
        ("Refused, last 7 days", {"about": "refused", "since": week}),
        ("Let in today", {"about": "let in", "since": today.isoformat()}),
        ("Not understood today", {"about": "not understood", "since": today.isoformat()}),
    )
    return [(name, urlencode(each)) for name, each in wanted]


async def go(request: web.Request) -> web.StreamResponse:
    """The jump box: an exchange by its number, a trench by its reference; anything else is looked for."""
    office, to = request.config_dict[OFFICE], request.query.get("to", "").strip()[:80]
    if to.isascii() and to.isdigit() and len(to) < 16:
        raise web.HTTPSeeOther(f"/office/exchange/{to}")
    ref = to.upper().replace("-", "")

    def find(connection: ReadConnection) -> list[tuple[str, str]]:
        sites = [site.name for site in office.sites]
        marks = ", ".join("?" * len(sites))
        sql = f"SELECT site, ref FROM trenches WHERE ref = ? AND site IN ({marks}) ORDER BY open DESC LIMIT 2"
        return list(connection.db.execute(sql, [ref, *sites]).fetchall())

    found = await office.read(find)
    if len(found) == 1:
        raise web.HTTPSeeOther(f"/office/trench/{quote(found[0][0], safe='')}/{quote(found[0][1], safe='')}")
    raise web.HTTPSeeOther(f"/office/log?{urlencode({'trench': ref} if found else {'text': to})}")


def asked_for(request: web.Request) -> dict[str, str]:
    """What the form holds: every field of the filter, and the two dates as days."""
    given = {name: request.query.get(name, "").strip()[:200] for name in asdict(LogFilter())}
    return {name: value for name, value in given.items() if value}


def to_filter(asked: dict[str, str], office: OfficeContext) -> LogFilter:
    """The filter of a form. A sender may be given by name; a day is one of the office's clock.

    Raises HTTPBadRequest for what is no date.
    """
    wanted = dict(asked)
    if "trench" in wanted:
        wanted["trench"] = wanted["trench"].upper()
    if "sender" in wanted:
        by_name = {person.name.lower(): person.number for person in office.people}
        wanted["sender"] = by_name.get(wanted["sender"].lower(), wanted["sender"])
    try:
        if "since" in wanted:
            wanted["since"] = moment(_midnight(date.fromisoformat(wanted["since"]), office.zone))
        if "until" in wanted:
            wanted["until"] = moment(
                _midnight(date.fromisoformat(wanted["until"]) + timedelta(days=1), office.zone)
            )
    except (ValueError, OverflowError) as error:
        raise web.HTTPBadRequest(text="A date is written as 2026-11-25.") from error
    return LogFilter(**wanted)


def _midnight(day: date, zone: tzinfo) -> datetime:
    return datetime.combine(day, time(), zone)


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else None


routes = [web.get("/log", show), web.get("/go", go)]
