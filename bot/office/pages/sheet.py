"""The calculation sheet of one answer on paper: a page to check and initial, the whole working behind it."""

import json
from typing import Any

from aiohttp import web
from markupsafe import Markup

from bot.drawing.sketch import sketch
from bot.office.context import OFFICE, OfficeContext
from bot.office.pages.exchange import find_exchange
from bot.office.render import field, page, plain
from bot.office.worked_again import SIZING, WorkedAgain
from knowledge.outcome import Sized
from knowledge.record.state import TrenchState

# What an engineer looks for first, by symbol: ground, pressure, what bears, what it comes to.
FIRST = ("γ", "φ", "c_u", "h_s", "p_1", "p_2", "p_3", "p", "FoS_b", "R_b", "R", "h", "s", "N")


async def show(request: web.Request) -> web.StreamResponse:
    """The sheet of an exchange that sized a trench or refused one."""
    office, found = request.config_dict[OFFICE], await find_exchange(request)
    row = found["row"]
    if row["kind"] not in SIZING or not row["outcome"]:
        raise web.HTTPNotFound(text=f"Exchange {row['exchange']} has no calculation sheet.")
    outcome = json.loads(row["outcome"])
    lines: list[dict[str, Any]] = outcome.get("sheet", [])
    worked = [line for line in lines if line.get("holds") is None]
    kit = office.basis.tables.kits.get(outcome["kit"])
    return page(
        request,
        "sheet_page.html",
        row=row,
        outcome=outcome,
        kit=kit.title if kit else outcome["kit"],
        told=_told(found["again"], worked),
        first=[line for symbol in FIRST for line in worked if line["symbol"] == symbol],
        checks=[line for line in lines if line.get("holds") is not None],
        lines=lines,
        again=found["again"],
        sketch=_drawn(found["again"], office),
    )


def _told(again: WorkedAgain | None, worked: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """What it was worked from: all that was told by then, or what of it stands on the sheet."""
    if again is None:
        return [
            (line.get("name", line["symbol"]), f"{line['value']:g} {line['unit']}")
            for line in worked
            if line["source"] == "told"
        ]
    details = again.figures.model_dump(mode="json", exclude_none=True)
    return [(field(name), plain(value)) for name, value in details.items() if value != []]


def _drawn(again: WorkedAgain | None, office: OfficeContext) -> Markup | None:
    """The plan drawn, where it is still what these figures come to."""
    if again is None or again.differences or not isinstance(again.outcome, Sized):
        return None
    rail = office.basis.tables.kits[again.outcome.kit].rail.length_m
    return sketch(again.outcome, again.figures, TrenchState(), rail)


routes = [web.get(r"/exchange/{number:\d{1,15}}/sheet", show)]
