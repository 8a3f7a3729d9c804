"""One exchange whole: what was asked, how it was read, what was answered on which figures, and its seal."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from aiohttp import web
from sqlite_utils import Database

from bot.channels import segments
from bot.message import event_name
from bot.office.context import OFFICE, ReadConnection
from bot.office.export import without_code
from bot.office.render import page
from bot.office.worked_again import work_again
from bot.storage import log, pictures
from knowledge.record.state import Event, TrenchState
from knowledge.record.trench import Trench

NOT_SHOWN = ("sheet", "kind")  # they have a place of their own


async def find_exchange(request: web.Request) -> dict[str, Any]:
    """The exchange of an address, worked again, with its texts. Raises HTTPNotFound."""
    office, number = request.config_dict[OFFICE], int(request.match_info["number"])

    def find(connection: ReadConnection) -> dict[str, Any] | None:
        row = log.exchange(connection.db, number)
        if row is None:
            return None
        trench = (
            connection.records.find(row["site"], row["trench"]) if row["site"] and row["trench"] else None
        )
        row = without_code(row)
        row["hazard"] = log.is_about(connection.db, number, "hazard")
        return {
            "row": row,
            "held": held(row, trench),
            "then": next_of_sender(connection.db, row),
            "texts": texts_of(connection.db, number),
            "pictures": pictures.of_exchange(connection.db, number),
            "again": work_again(row, trench, office.basis.tables),
            "before": log.exchange(connection.db, number - 1) is not None,
            "after": log.exchange(connection.db, number + 1) is not None,
        }

    found = await office.read(find)
    if found is None:
        raise web.HTTPNotFound(text=f"There is no exchange {number}.")
    return found


async def show(request: web.Request) -> web.StreamResponse:
    """The page of one exchange."""
    found = await find_exchange(request)
    row = found["row"]
    outcome = _parsed(row["outcome"])
    reply = row["reply"] or ""
    return page(
        request,
        "exchange.html",
        reading=_parsed(row["reading"]),
        outcome={name: value for name, value in outcome.items() if name not in NOT_SHOWN},
        sheet=outcome.get("sheet", []),
        alerts=_parsed(row["alerts"]),
        count=segments.count(reply),
        **found,
    )


@dataclass(frozen=True)
class Held:
    """What of an exchange did not count: `left_over` of its words; whether it holds entry back as a text that
    nobody understood, and what ended that."""

    left_over: tuple[str, ...]
    open: bool
    still_open: bool
    ended_by: Event | None


def held(row: Mapping[str, Any], trench: Trench | None) -> Held | None:
    """None where the exchange told nothing of a trench that is kept."""
    if trench is None or not row["sender"]:
        return None
    name = event_name(row["channel"], row["sender"], row["message_id"])
    place = next((n for n, event in enumerate(trench.events) if event.id == name), None)
    if place is None:
        return None
    event = trench.events[place]
    after = zip(trench.events[place + 1 :], trench.states[place + 1 :], strict=True)
    ended = next((e for e, state in after if not _is_open(name, state)), None)
    return Held(
        left_over=event.reading.left_over,
        open=_is_open(name, trench.states[place]),
        still_open=_is_open(name, trench.now),
        ended_by=ended if _is_open(name, trench.states[place]) else None,
    )


def _is_open(event: str, state: TrenchState) -> bool:
    return any(each.said.event == event for each in (*state.open_texts, *state.possible))


def next_of_sender(db: Database, row: Mapping[str, Any]) -> dict[str, Any] | None:
    """What the same sender wrote next: how they answered what they were asked."""
    found = db.query(
        "SELECT exchange, text, reply, sent_at FROM turns WHERE sender = ? AND exchange > ?"
        " ORDER BY exchange LIMIT 1",
        [row["sender"], row["exchange"]],
    )
    return next(found, None) if row["sender"] else None


def texts_of(db: Database, exchange: int) -> list[dict[str, Any]]:
    """The texts that an exchange sent, and what became of each."""
    # The keys of an exchange's texts are "17-1", "17-2", ...; "." follows "-" in the order of signs.
    return list(
        db.query(
            "SELECT recipient, text, why, state, tries, problem FROM outbox"
            " WHERE key > ? AND key < ? ORDER BY place",
            [f"{exchange}-", f"{exchange}."],
        )
    )


def _parsed(text: str | None) -> Any:
    return json.loads(text) if text else {}


async def picture(request: web.Request) -> web.StreamResponse:
    """A picture that came with a text. Raises HTTPNotFound."""
    number = int(request.match_info["number"])
    jpeg = await request.config_dict[OFFICE].read(lambda connection: pictures.jpeg(connection.db, number))
    if jpeg is None:
        raise web.HTTPNotFound(text=f"There is no picture {number}, or it was erased.")
    return web.Response(body=jpeg, content_type="image/jpeg")


routes = [
    web.get(r"/exchange/{number:\d{1,15}}", show),
    web.get(r"/picture/{number:\d{1,15}}.jpg", picture),
]
