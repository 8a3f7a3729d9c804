"""Alarms that reached nobody: texts of danger that failed or are still tried, and who has seen to them."""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from bot.config.people import People
from bot.language.tokens import references
from bot.storage import acknowledged
from bot.storage.acknowledged import Acknowledged

MOST = 200
SHOWN_AFTER = timedelta(hours=24)
"""How long an alarm stays in sight once somebody has seen to it."""
_ALARMS = """
    SELECT key, recipient, text, made_at, state, problem FROM outbox INDEXED BY outbox_alarms
    WHERE rank = 0 AND why NOT IN ('', 'code') AND state NOT IN ('sent', 'delivered')
        AND (state = 'failed' OR problem <> '')
    ORDER BY place DESC LIMIT ?
"""


@dataclass(frozen=True)
class Alarm:
    """What somebody was to be told at once and was not. `keys` are its texts in the outbox, `exchange` what
    set it off; `trying` says that it is still tried."""

    keys: tuple[str, ...]
    exchange: int | None
    site: str
    refs: tuple[str, ...]
    to: str
    name: str
    text: str
    at: datetime
    trying: bool
    problem: str
    seen_to: Acknowledged | None


def alarms(db: Database, people: People, now: datetime) -> list[Alarm]:
    """The newest first; those that nobody has seen to before the others."""
    rows = db.execute(_ALARMS, (MOST,)).fetchall()
    names = {key: acknowledged.name_of_alarm(key) for key, *_ in rows}
    seen = acknowledged.find(db, names.values())
    together: dict[tuple[str, str], Alarm] = {}
    for key, to, text, made_at, state, problem in rows:
        exchange = _exchange(key)
        person = people.find(to)
        one = Alarm(
            keys=(key,),
            exchange=exchange,
            site=_site(db, exchange) or (person.site if person else ""),
            refs=tuple(references(text)),
            to=to,
            name=person.name if person else to,
            text=text,
            at=datetime.fromisoformat(made_at),
            trying=state != "failed",
            problem=problem,
            seen_to=seen.get(names[key]),
        )
        if one.seen_to and now - one.seen_to.at > SHOWN_AFTER:
            continue
        # Where a channel carries short texts only, one alarm is several of them.
        part = together.get((str(exchange), to))
        together[str(exchange), to] = _joined(one, part) if part else one
    return sorted(together.values(), key=lambda each: each.seen_to is not None)


def _joined(first: Alarm, later: Alarm) -> Alarm:
    """Two texts of one alarm: nobody has seen to it while one of them stands open."""
    both = first.seen_to and later.seen_to
    return Alarm(
        keys=(*first.keys, *later.keys),
        exchange=first.exchange,
        site=first.site,
        refs=tuple(dict.fromkeys((*first.refs, *later.refs))),
        to=first.to,
        name=first.name,
        text=first.text + later.text,
        at=min(first.at, later.at),
        trying=first.trying and later.trying,
        problem=first.problem or later.problem,
        seen_to=both,
    )


def _exchange(key: str) -> int | None:
    """The exchange whose alarm it is: keys of its texts are "17-1", "17-2"; of a reminder there is none."""
    match = re.fullmatch(r"(\d+)-\d+", key)
    return int(match[1]) if match else None


def _site(db: Database, exchange: int | None) -> str:
    row = db.execute("SELECT site FROM turns WHERE exchange = ?", (exchange,)).fetchone()
    return str(row[0] or "") if row else ""
