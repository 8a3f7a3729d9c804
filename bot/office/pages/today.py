"""The first page: which trenches are open, what stands in the way, what the service could not do."""

import json
from collections import Counter
from typing import Any

from aiohttp import web
from sqlite_utils import Database

from bot.config.settings import MUTE, is_mute
from bot.delivery.outbox import Outbox
from bot.office.context import OFFICE, ReadConnection
from bot.office.open_trenches import TrenchStatus, trench_statuses
from bot.office.render import page
from bot.storage import refused
from bot.web.app import HOOKS

LATEST = 2000  # exchanges looked through for words that were not understood
MOST = 12


async def show(request: web.Request) -> web.StreamResponse:
    """Today."""
    office = request.config_dict[OFFICE]
    now = office.now
    unwritten = request.config_dict[HOOKS].refusals.unwritten()

    def find(connection: ReadConnection) -> dict[str, Any]:
        outbox = Outbox(connection.db)
        return {
            "standings": trench_statuses(connection, office, now),
            "failed": outbox.failed(MOST),
            "texts": outbox.counts(),
            "unread": unread_words(connection.db),
            "unanswered": unanswered(connection.db),
            "refused": refused.latest(connection.db, unwritten),
        }

    found = await office.read(find)
    mute = MUTE if is_mute(request.config_dict[HOOKS].channels) else ""
    return page(
        request,
        "today.html",
        now=now,
        headline=headline(found["standings"]),
        mute=mute,
        **found,
    )


async def rung(request: web.Request) -> web.StreamResponse:
    """The sender of refused texts was rung: they need not stand here any more."""
    office, sender = request.config_dict[OFFICE], str((await request.post()).get("sender", ""))
    await request.config_dict[HOOKS].keep_refusals()
    await office.write(lambda: refused.forget(office.db, sender))
    raise web.HTTPSeeOther("/office/")


def headline(open_: list[TrenchStatus]) -> str:
    """What matters most, in one sentence."""
    if not open_:
        return "No trench is open."
    danger = sum(each.danger for each in open_)
    inside = sum(each.rank == 1 for each in open_)
    said = [_counted(danger, "open hazard")] if danger else ["No open hazard"]
    if inside:
        said.append(f"people let in to {_counted(inside, 'trench', 'trenches')}")
    said.append(f"{_counted(len(open_), 'trench', 'trenches')} open")
    return ", ".join(said) + "."


def unread_words(db: Database, most: int = MOST) -> list[tuple[str, int]]:
    """The words not used in the latest exchanges, the most frequent first."""
    latest = db.execute(
        "SELECT reading ->> '$.unread' FROM turns WHERE reading IS NOT NULL ORDER BY exchange DESC LIMIT ?",
        (LATEST,),
    )
    counted = Counter(word.lower() for (words,) in latest if words for word in json.loads(words))
    return counted.most_common(most)


def unanswered(db: Database, most: int = 5) -> list[dict[str, Any]]:
    """The latest messages that an error of ours left without an answer."""
    return list(db.query("SELECT * FROM turns WHERE kind = 'failed' ORDER BY exchange DESC LIMIT ?", [most]))


def _counted(n: int, one: str, many: str = "") -> str:
    return f"{n} {one}" if n == 1 else f"{n} {many or one + 's'}"


routes = [web.get("/", show), web.post("/rung", rung)]
