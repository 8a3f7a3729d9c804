"""The log: every exchange newest first, found by words, trench, sender, site, kind, rulebook and dates."""

from dataclasses import asdict
from datetime import date, datetime, time, timedelta, tzinfo
from typing import get_args
from urllib.parse import urlencode

from aiohttp import web

from bot.office.context import OFFICE, OfficeContext
from bot.office.render import page
from bot.storage import log
from bot.storage.log import LogFilter
from bot.storage.turns import moment
from knowledge.outcome import OUTCOME_KINDS
from knowledge.sourced import Rulebook

PAGE = 50


async def show(request: web.Request) -> web.StreamResponse:
    """One page of the log. The next one begins where this one ends: none is skipped or shown twice."""
    office = request.config_dict[OFFICE]
    asked = asked_for(request)
    wanted, before = to_filter(asked, office), _number(request.query.get("before", ""))
    rows = await office.read(lambda connection: log.page(connection.db, wanted, before, PAGE + 1, log.LISTED))
    more = rows[PAGE - 1]["exchange"] if len(rows) > PAGE else None
    return page(
        request,
        "log.html",
        asked=asked,
        rows=rows[:PAGE],
        query=urlencode(asked),
        older=urlencode({**asked, "before": more}) if more else "",
        later=before is not None,
        kinds=OUTCOME_KINDS,
        rulebooks=get_args(Rulebook),
        people=list(office.people),
        sites=office.sites,
    )


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


routes = [web.get("/log", show)]
