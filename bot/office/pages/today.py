"""The first page: which trenches are open, what stands in the way, what the service could not do."""

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from aiohttp import web
from sqlite_utils import Database

from bot.config.settings import is_mute
from bot.delivery.outbox import Outbox
from bot.office.alarms import Alarm, alarms
from bot.office.board import board
from bot.office.context import OFFICE, ReadConnection
from bot.office.open_trenches import CLEAR, CLOSED, HAZARD, INSIDE, MISSING, WAITING, TrenchStatus
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
    worst = {(each.site.name, each.trench.ref): -place for place, each in enumerate(every)}
    found["alarms"].sort(key=lambda alarm: _pressing(alarm, worst), reverse=True)
    return page(
        request,
        "today.html",
        now=now,
        headline=headline(every),
        title=title(every, found["alarms"]),
        orders=orders(every),
        most_named=MOST,
        mute=mute(request),
        **found,
    )


def _pressing(alarm: Alarm, worst: Mapping[tuple[str, str], int]) -> tuple[bool, int]:
    """Alarms in the order of their trenches, those that somebody has seen to last."""
    places = [worst[alarm.site, ref] for ref in alarm.refs if (alarm.site, ref) in worst]
    return alarm.seen_to is None, max(places, default=-len(worst))


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


def mute(request: web.Request) -> bool:
    """Whether no channel can send by itself."""
    return is_mute(request.config_dict[HOOKS].channels)


def headline(open_: Sequence[TrenchStatus]) -> str:
    """What matters most, in one sentence."""
    if not open_:
        return "No trench is open."
    ranks = Counter(each.rank for each in open_)
    said = [f"{ranks[HAZARD]} in danger"] if ranks[HAZARD] else []
    if ranks[CLOSED]:
        said.append(f"{ranks[CLOSED]} stopped or refused")
    if unready := ranks[WAITING] + ranks[MISSING]:
        said.append(f"{unready} not ready")
    if manned := [each for each in open_ if each.trench.now.heads]:
        heads = _counted(sum(each.trench.now.heads for each in manned), "person is", "people are")
        where = manned[0].trench.ref if len(manned) == 1 else f"{len(manned)} trenches"
        said.append(f"{heads} in {where}")
    elif ranks[INSIDE]:
        said.append(f"people let in to {ranks[INSIDE]}")
    else:
        said.append("nobody reported in")
    return f"{_counted(len(open_), 'trench', 'trenches')}: {', '.join(said)}."


ORDERS = {
    HAZARD: "Get everyone out",
    CLOSED: "Keep everyone out",
    WAITING: "Not ready, keep out",
    MISSING: "Not ready, keep out",
    CLEAR: "Nobody let in yet, keep out",
    INSIDE: "People let in",
}


def orders(open_: Sequence[TrenchStatus]) -> list[tuple[str, list[TrenchStatus]]]:
    """Every trench by name under what is to be done there, at the head of the page, the worst first."""
    found: dict[str, list[TrenchStatus]] = {}
    for rank, words in ORDERS.items():
        found.setdefault(words, []).extend(each for each in open_ if each.rank == rank)
    return [(words, ones) for words, ones in found.items() if ones]


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
