"""One exchange whole: what was asked, how it was read, what was answered on which figures, and its seal."""

import json
from typing import Any

from aiohttp import web
from sqlite_utils import Database

from bot.channels import segments
from bot.office.context import OFFICE, ReadConnection
from bot.office.render import page
from bot.office.worked_again import work_again
from bot.storage import log

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
        return {
            "row": row,
            "texts": texts_of(connection.db, number),
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
        segments=segments.split(reply) if reply else (),
        count=segments.count(reply),
        **found,
    )


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


routes = [web.get(r"/exchange/{number:\d{1,15}}", show)]
