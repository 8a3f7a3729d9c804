"""How the open trenches stand: who may be in, what is missing and since when, hazards first."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from sqlite_utils import Database

from bot.dialogue.context import shift
from bot.message import Site
from bot.office.context import OfficeContext, ReadConnection
from bot.office.waiting import Waiting, questions
from knowledge.entry.may_enter import entry
from knowledge.entry.missing import judged
from knowledge.outcome import Entry, EntryFact, Missing
from knowledge.record.shift import Shift
from knowledge.record.trench import Trench
from knowledge.tables.load import Tables

SILENT_AFTER = timedelta(hours=24)
MOST_KNOWN = 1024  # trenches whose past is kept at hand


@dataclass(frozen=True)
class Outstanding:
    """What stands in the way, and since which message; None where it lapsed with time, as it says itself."""

    missing: Missing
    since: datetime | None


StandingName = Literal["hazard", "stop", "in", "wait", "no", "clear"]


class Standing(NamedTuple):
    """How a trench stands: its name (with a sign of its own on the pages), its rank, the worst first, and
    the state in a few words."""

    name: StandingName
    rank: int
    words: str


HAZARD, CLOSED, INSIDE, WAITING, MISSING, CLEAR = range(6)  # the ranks, in the order in which they are shown


@dataclass(frozen=True)
class TrenchStatus:
    """One open trench as it stands now. `asked` is what its senders were asked and have not answered."""

    site: Site
    trench: Trench
    entry: Entry
    gaps: tuple[Outstanding, ...]
    asked: tuple[Waiting, ...] = ()

    @property
    def danger(self) -> bool:
        """Whether a hazard is open, what was written may be one, or people are in whom nobody let in."""
        return bool(self.trench.now.hazards or self.trench.now.possible or self.unasked)

    @property
    def unasked(self) -> bool:
        """Whether people are told to be in without leave."""
        return bool(self.trench.now.heads and not self.entry.allowed_by)

    @property
    def refused(self) -> bool:
        """Whether no shores will do for the trench as told."""
        return self.trench.now.refused

    @property
    def dug_past(self) -> bool:
        """Whether it is dug deeper than its plan holds."""
        state = self.trench.now
        return any(change.what == "depth" for change in state.changed)

    @property
    def standing(self) -> Standing:
        """The state. Never that anybody may go in: only who let people in, and until when."""
        state = self.trench.now
        if state.hazards:
            return Standing("hazard", HAZARD, "Danger: get everyone out")
        if state.possible:
            return Standing("hazard", HAZARD, "Perhaps danger: get everyone out")
        if self.unasked:
            return Standing("hazard", HAZARD, "People in, not let in: get them out")
        if state.stopped:
            return Standing("stop", CLOSED, "Stopped: keep everyone out")
        if self.refused:
            return Standing("stop", CLOSED, "Shores refused: keep everyone out")
        if self.dug_past:
            return Standing("stop", CLOSED, "Dug past its plan: keep everyone out")
        if self.entry.allowed_by:
            return Standing("in", INSIDE, f"People let in by {self.entry.allowed_by}")
        if state.open_texts:
            return Standing("wait", WAITING, "No entry: a text to clear up")
        if self.asked:
            return Standing("wait", WAITING, "No entry: waits for an answer")
        if {gap.missing.fact for gap in self.gaps} == {"inspection"}:
            return Standing("wait", WAITING, "No entry: waits for inspection")
        if self.entry.entry == "may":
            return Standing("clear", CLEAR, "Nobody let in yet: keep out")
        return Standing("no", MISSING, "No entry: facts missing")

    @property
    def rank(self) -> int:
        """What the office must look at first."""
        return self.standing.rank

    @property
    def state(self) -> str:
        """The state in a few words."""
        return self.standing.words

    @property
    def worst(self) -> Outstanding | None:
        """Of what stands in the way, that by which it is ranked; else the worst."""
        if self.rank == CLOSED and not self.trench.now.stopped:
            changed = [gap for gap in self.gaps if gap.missing.fact == "plan changed"]
            return next(iter((*changed, *self.gaps)), None)
        return next(iter(self.gaps), None)

    def silent(self, now: datetime) -> bool:
        """Whether nobody spoke of it for a day, and nothing of it is worse than missing facts."""
        return self.rank > INSIDE and now - self.heard_at > SILENT_AFTER

    @property
    def heard_at(self) -> datetime:
        """When anybody last texted of it, whether that was understood or not."""
        return max([*(event.heard for event in self.trench.events), *(each.at for each in self.asked)])


class MissingBefore:
    """What was missing after each message of a trench: it never changes, and is worked once.

    A record that changed is another one: it is known by itself and not by its name.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[str, str], tuple[Trench, Tables, Shift, dict[int, frozenset[EntryFact]]]] = {}

    def after(self, trench: Trench, place: int, tables: Tables, day: Shift) -> frozenset[EntryFact]:
        """The facts that were missing after the event at `place`."""
        name = trench.site, trench.ref
        known = self._known.get(name)
        if known is None or known[0] is not trench or known[1] is not tables or known[2] != day:
            if len(self._known) >= MOST_KNOWN:
                self._known.pop(next(iter(self._known)))
            known = self._known[name] = trench, tables, day, {}
        if place not in known[3]:
            state, at = trench.states[place], trench.events[place].at
            missing, _ = judged(state, trench.rulebook, at, tables, day)
            known[3][place] = frozenset(each.fact for each in missing)
        return known[3][place]


def trench_statuses(connection: ReadConnection, office: OfficeContext, now: datetime) -> list[TrenchStatus]:
    """Every open trench of every site, the most pressing first, of those the ones with people in, then the
    latest heard of."""
    asked = questions(connection.db, office.people, now)
    tables, before = office.basis.tables, connection.kept(MissingBefore)
    found = [
        trench_status(trench, site, tables, now, tuple(asked.get((site.name, trench.ref), ())), before)
        for site, trench in open_trenches(connection, office)
    ]
    latest = sorted(found, key=lambda each: each.heard_at, reverse=True)
    return sorted(latest, key=lambda each: (each.rank, not each.trench.now.heads))


def open_trenches(connection: ReadConnection, office: OfficeContext) -> list[tuple[Site, Trench]]:
    """Every open trench with its site."""
    sites = map(office.people.site, _sites(connection.db))
    return [(site, trench) for site in sites for trench in connection.records.open(site.name).values()]


def trench_status(
    trench: Trench,
    site: Site,
    tables: Tables,
    now: datetime,
    asked: tuple[Waiting, ...] = (),
    before: MissingBefore | None = None,
) -> TrenchStatus:
    """How one trench stands."""
    day = shift(site)
    decided = entry(trench, now, tables, day)
    facts = {each.fact for each in decided.missing}
    since = _since(trench, facts, tables, day, before or MissingBefore())
    gaps = tuple(
        Outstanding(each, None if each.id.endswith(".stale") else since.get(each.fact))
        for each in decided.missing
    )
    return TrenchStatus(site, trench, decided, gaps, asked)


def _since(
    trench: Trench, facts: set[EntryFact], tables: Tables, day: Shift, before: MissingBefore
) -> dict[EntryFact, datetime]:
    """For each fact the first of the latest messages after which it was always missing."""
    since: dict[EntryFact, datetime] = {}
    for place in reversed(range(len(trench.events))):
        facts = facts & before.after(trench, place, tables, day)
        if not facts:
            break
        since |= dict.fromkeys(facts, trench.events[place].at)
    return since


def _sites(db: Database) -> list[str]:
    return [name for (name,) in db.execute("SELECT DISTINCT site FROM trenches WHERE open = 1 ORDER BY site")]
