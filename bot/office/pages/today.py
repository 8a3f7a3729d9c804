"""The first page: which trenches are open, what stands in the way, what the service could not do."""

import json
from collections import Counter
from collections.abc import Sequence
from typing import Any

from aiohttp import web
from sqlite_utils import Database

from bot.config.settings import MUTE, is_mute
from bot.delivery.outbox import Outbox
from bot.office.alarms import Alarm, alarms
from bot.office.board import board
from bot.office.context import OFFICE, ReadConnection
from bot.office.open_trenches import CLOSED, HAZARD, INSIDE, TrenchStatus
from bot.office.render import page
from bot.office.session import USER
from bot.storage import acknowledged, refused
from bot.web.app import HOOKS

LATEST = 2000  # exchanges looked through for words that were not understood
MOST = 12
MOST_FAILED = 100
MOST_KEYS = 100  # of one alarm's texts


async def show(request: web.Request) -> web.StreamResponse:
    """Today."""
    office = request.config_dict[OFFICE]
    now = office.now
    unwritten = request.config_dict[HOOKS].refusals.unwritten()

    def find(connection: ReadConnection) -> dict[str, Any]:
        outbox, found = Outbox(connection.db), alarms(connection.db, office.people, now)
        return {
            "alarms": found,
            "boards": board(connection, office, now, found),
            "failed": failed_texts(outbox),
            "texts": outbox.counts(),
            "behind": outbox.events_behind(now),
            "unread": unread_words(connection.db),
            "unanswered": unanswered(connection.db),
            "refused": refused.latest(connection.db, unwritten),
        }

    found = await office.read(find)
    every = [each for one in found["boards"] for each in (*(r.status for r in one.rows), *one.silent)]
    return page(
        request,
        "today.html",
        now=now,
        headline=headline(every),
        title=title(every, found["alarms"]),
        shut=shut(every),
        most_named=MOST,
        mute=mute(request),
        **found,
    )


async def rung(request: web.Request) -> web.StreamResponse:
    """The sender of refused texts was rung: they need not stand here any more."""
    office, sender = request.config_dict[OFFICE], str((await request.post()).get("sender", ""))
    await request.config_dict[HOOKS].keep_refusals()
    await office.write(lambda: refused.forget(office.db, sender))
    raise web.HTTPSeeOther("/office/")


async def acknowledge(request: web.Request) -> web.StreamResponse:
    """Somebody says whom they rang about an alarm, or that they read words: it stands with their name."""
    office, form = request.config_dict[OFFICE], await request.post()
    keys = [str(each) for each in form.getall("alarm", [])][:MOST_KEYS]
    words = [str(each) for each in form.getall("words", [])][:MOST_KEYS]
    note = " ".join(str(form.get("note", "")).split())[: acknowledged.MOST_NOTE]
    if keys and not note:
        raise web.HTTPBadRequest(text="Say who was rung. Go back and write their name.")
    if not all(each.isprintable() for each in (note, *keys, *words)):
        raise web.HTTPBadRequest(text="This form holds signs that cannot be seen.")
    what = [acknowledged.name_of_alarm(each) for each in keys] + words
    user, now = request[USER].name, office.now
    await office.write(lambda: acknowledged.put(office.db, what, user, note, now))
    raise web.HTTPSeeOther("/office/")


def failed_texts(outbox: Outbox) -> dict[tuple[str, str], list[dict[str, Any]]]:
    """The newest texts that failed, by whom they were for and why."""
    found: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for text in outbox.failed(MOST_FAILED):
        found.setdefault((str(text["recipient"]), str(text["problem"])), []).append(text)
    return found


def mute(request: web.Request) -> str:
    """Why nothing can be sent; "" where a channel can."""
    return MUTE if is_mute(request.config_dict[HOOKS].channels) else ""


def headline(open_: Sequence[TrenchStatus]) -> str:
    """What matters most, in one sentence."""
    if not open_:
        return "No trench is open."
    danger = sum(each.rank == HAZARD for each in open_)
    closed = sum(each.rank == CLOSED for each in open_)
    inside = sum(each.rank == INSIDE for each in open_)
    said = [_counted(danger, "open hazard")] if danger else ["No open hazard"]
    if closed:
        said.append(f"{closed} stopped or refused")
    if inside:
        said.append(f"people let in to {_counted(inside, 'trench', 'trenches')}")
    if heads := sum(each.trench.now.heads for each in open_):
        said.append(f"{heads} reported in")
    said.append(f"{_counted(len(open_), 'trench', 'trenches')} open")
    return ", ".join(said) + "."


def shut(open_: Sequence[TrenchStatus]) -> list[tuple[str, list[TrenchStatus]]]:
    """The trenches that must not be entered for danger or a stop, to be named at the head of the page."""
    ranks = ((HAZARD, "Everyone out"), (CLOSED, "Nobody in"))
    found = [(words, [each for each in open_ if each.rank == rank]) for rank, words in ranks]
    return [(words, ones) for words, ones in found if ones]


def title(open_: Sequence[TrenchStatus], alarms_: Sequence[Alarm]) -> str:
    """What a tab says that nobody looks at: how many hazards, and how many alarms that reached nobody."""
    danger = sum(each.rank == HAZARD for each in open_)
    deaf = sum(each.seen_to is None for each in alarms_)
    counts = [_counted(danger, "hazard")] if danger else []
    counts += [f"{deaf} not told"] if deaf else []
    return f"({', '.join(counts)}) Today" if counts else "Today"


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


routes = [web.get("/", show), web.post("/rung", rung), web.post("/acknowledge", acknowledge)]
