"""The open trenches as rows, ranked and by site, with what the first page shows of each."""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from bot.dialogue.context import shift
from bot.message import Person, Site
from bot.office.alarms import Alarm
from bot.office.context import OfficeContext, ReadConnection
from bot.office.gauge_strip import GaugeStrip, gauge_strip
from bot.office.open_trenches import TrenchStatus, trench_statuses
from bot.office.waiting import Waiting, held_words
from knowledge.entry.missing import FactContext
from knowledge.tables.load import Tables
from knowledge.units import Metre

_WHY_REFUSED = """
    SELECT exchange, outcome ->> '$.stop[0].say' FROM turns
    WHERE site = ? AND trench = ? AND kind = 'stop' ORDER BY exchange DESC LIMIT 1
"""


@dataclass(frozen=True)
class Inspected:
    """The last inspection; `until` is None where it counts no more."""

    by: str
    at: datetime
    until: datetime | None


@dataclass(frozen=True)
class BoardRow:
    """One trench on the first page. `ring` are the people to ring about it, in that order."""

    status: TrenchStatus
    reason: str
    since: datetime | None
    exchange: int | None
    planned_m: Metre | None
    strip: GaugeStrip | None
    strip_stale: bool  # whether the gauges must be read again
    inspected: Inspected | None
    waiting: tuple[Waiting, ...]
    not_told: tuple[Alarm, ...]
    ring: tuple[Person, ...]


@dataclass(frozen=True)
class SiteBoard:
    """The trenches of one site: those to look at, and those that nobody spoke of for a day."""

    site: Site
    rows: tuple[BoardRow, ...]
    silent: tuple[TrenchStatus, ...]


def board(
    connection: ReadConnection, office: OfficeContext, now: datetime, alarms: list[Alarm]
) -> list[SiteBoard]:
    """Every site with an open trench, the one with the worst trench first."""
    by_site: dict[str, list[TrenchStatus]] = {}
    for status in trench_statuses(connection, office, now):
        by_site.setdefault(status.site.name, []).append(status)
    open_alarms = [each for each in alarms if each.seen_to is None]
    return [
        SiteBoard(
            each[0].site,
            tuple(
                row(connection.db, status, office, now, open_alarms)
                for status in each
                if not status.silent(now)
            ),
            tuple(status for status in each if status.silent(now)),
        )
        for each in by_site.values()
    ]


def row(
    db: Database, status: TrenchStatus, office: OfficeContext, now: datetime, alarms: list[Alarm]
) -> BoardRow:
    """One trench as a row."""
    trench, tables = status.trench, office.basis.tables
    state = trench.now
    reason, since, exchange = _reason(db, status)
    not_told = tuple(each for each in alarms if each.site == trench.site and trench.ref in each.refs)
    return BoardRow(
        status=status,
        reason=reason,
        since=since,
        exchange=exchange,
        planned_m=state.plan.stages_m[-1] if state.plan else state.details.depth_m,
        strip=gauge_strip(trench, tables.entry),
        strip_stale=any(gap.missing.id == "pressure.stale" for gap in status.gaps),
        inspected=inspected(status, tables, now),
        waiting=(*held_words(db, trench), *status.asked),
        not_told=not_told,
        ring=_ring(status, office, not_told),
    )


def inspected(status: TrenchStatus, tables: Tables, now: datetime) -> Inspected | None:
    """The last inspection of a trench, and until when it counts at the longest."""
    said = status.trench.now.inspected
    if said is None:
        return None
    if any(gap.missing.fact == "inspection" for gap in status.gaps):
        return Inspected(said.by, said.at, None)
    rule = next(rule for _, rule in tables.entry.facts(status.trench.rulebook) if rule.fact == "inspection")
    context = FactContext(status.trench.now, now, shift(status.site), tables.entry)
    return Inspected(said.by, said.at, context.fresh(said.at, rule).until)


def _reason(db: Database, status: TrenchStatus) -> tuple[str, datetime | None, int | None]:
    """Why it stands so, since when, and where that can be read."""
    worst = status.worst
    if status.entry.allowed_by:
        return "", None, None
    if status.refused and not (status.danger or status.trench.now.stopped):
        found = db.execute(_WHY_REFUSED, (status.trench.site, status.trench.ref)).fetchone()
        if found and found[1]:
            return found[1], worst.since if worst else None, found[0]
    return (worst.missing.say, worst.since, None) if worst else ("", None, None)


def _ring(status: TrenchStatus, office: OfficeContext, not_told: tuple[Alarm, ...]) -> tuple[Person, ...]:
    """Who was not told of a danger, the competent persons of the site, and who last spoke of the trench."""
    people = office.people
    numbers = [alarm.to for alarm in not_told]
    numbers += [person.number for person in people.supervisors(status.site.name)]
    numbers += [event.number for event in status.trench.events[-1:]]
    return tuple(dict.fromkeys(person for number in numbers if (person := people.find(number))))
