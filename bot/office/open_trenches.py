"""How the open trenches stand: who may be in, what is missing and since when, hazards first."""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from bot.dialogue.context import shift
from bot.message import Site
from bot.office.context import OfficeContext, ReadConnection
from knowledge.entry.may_enter import entry
from knowledge.entry.missing import judged
from knowledge.outcome import Entry, EntryFact, Missing
from knowledge.record.shift import Shift
from knowledge.record.trench import Trench
from knowledge.tables.load import Tables


@dataclass(frozen=True)
class Outstanding:
    """What stands in the way, and since which message; None where it lapsed after the last one."""

    missing: Missing
    since: datetime | None


@dataclass(frozen=True)
class TrenchStatus:
    """One open trench as it stands now."""

    site: Site
    trench: Trench
    entry: Entry
    gaps: tuple[Outstanding, ...]

    @property
    def danger(self) -> bool:
        """Whether a hazard is open."""
        return bool(self.trench.now.hazards)

    @property
    def rank(self) -> int:
        """What the office must look at first: a hazard, then where people may be in, then the rest."""
        if self.danger:
            return 0
        if self.entry.allowed_by:
            return 1
        return 3 if self.entry.entry == "may" else 2

    @property
    def state(self) -> str:
        """The state in a few words. Never that anybody may go in: only who let people in, and until when."""
        if self.danger:
            return "Hazard open"
        if self.entry.allowed_by:
            return f"Let in by {self.entry.allowed_by}"
        if self.entry.entry == "may":
            return "Nothing missing, nobody let in"
        return "No entry"


def trench_statuses(connection: ReadConnection, office: OfficeContext, now: datetime) -> list[TrenchStatus]:
    """Every open trench of every site, the most pressing first, then the latest heard of."""
    found = [
        trench_status(trench, site, office.basis.tables, now)
        for site, trench in open_trenches(connection, office)
    ]
    latest = sorted(found, key=lambda each: each.trench.now.last_at or now, reverse=True)
    return sorted(latest, key=lambda each: each.rank)


def open_trenches(connection: ReadConnection, office: OfficeContext) -> list[tuple[Site, Trench]]:
    """Every open trench with its site."""
    sites = map(office.people.site, _sites(connection.db))
    return [(site, trench) for site in sites for trench in connection.records.open(site.name).values()]


def trench_status(trench: Trench, site: Site, tables: Tables, now: datetime) -> TrenchStatus:
    """How one trench stands."""
    day = shift(site)
    decided = entry(trench, now, tables, day)
    since = _since(trench, {each.fact for each in decided.missing}, tables, day)
    gaps = tuple(Outstanding(each, since.get(each.fact)) for each in decided.missing)
    return TrenchStatus(site, trench, decided, gaps)


def _since(trench: Trench, facts: set[EntryFact], tables: Tables, day: Shift) -> dict[EntryFact, datetime]:
    """For each fact the first of the latest messages after which it was always missing."""
    since: dict[EntryFact, datetime] = {}
    for event, state in zip(reversed(trench.events), reversed(trench.states), strict=True):
        missing, _ = judged(state, trench.rulebook, event.at, tables, day)
        facts = facts & {each.fact for each in missing}
        if not facts:
            break
        since |= dict.fromkeys(facts, event.at)
    return since


def _sites(db: Database) -> list[str]:
    return [name for (name,) in db.execute("SELECT DISTINCT site FROM trenches WHERE open = 1 ORDER BY site")]
