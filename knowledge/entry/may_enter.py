"""May anyone go in? What stands in the way of entry, and the competent person's allowance.

The answer is never a permission: the competent person allows, by name, and their allowance falls with the
first missing fact.
"""

from dataclasses import dataclass
from datetime import datetime

from knowledge.entry.missing import judged, quoted
from knowledge.outcome import Caution, Entry
from knowledge.record.shift import Shift
from knowledge.record.state import TrenchState
from knowledge.record.trench import Trench
from knowledge.sourced import Rulebook
from knowledge.tables.entry_rules import EntryRules, Role, filled
from knowledge.tables.load import Tables


def entry(trench: Trench, now: datetime, tables: Tables, shift: Shift) -> Entry:
    """The state of entry: `no` with what is missing, worst first, or `may` until a time."""
    missing, until = judged(trench.now, trench.rulebook, now, tables, shift)
    if missing:
        return Entry(trench=trench.ref, entry="no", missing=missing)
    allowed = allowance(trench, now, tables, shift)
    return Entry(
        trench=trench.ref,
        entry="may",
        until=min(until, allowed.until) if allowed else until,
        allowed_by=allowed.by if allowed else None,
        cautions=(*_doubts(trench.now, now, tables, shift), *_always(trench.rulebook, tables)),
    )


def _always(rulebook: Rulebook, tables: Tables) -> tuple[Caution, ...]:
    return tuple(
        Caution(id=f"entry.{name}", say=rule.say, source=tables.source(rule, rulebook))
        for name, rule in tables.entry.caution.items()
    )


def _doubts(state: TrenchState, now: datetime, tables: Tables, shift: Shift) -> tuple[Caution, ...]:
    """What was heard as danger and said to be safe since, in the words of who wrote it."""
    rule = tables.entry.doubted
    numbers = [quoted(each, shift, now) for each in state.doubted]
    return tuple(
        Caution(id="entry.doubted", say=filled(rule.say, n), source=tables.source(rule), numbers=n)
        for n in numbers
    )


@dataclass(frozen=True, slots=True)
class Allowance:
    """The competent person let people in: who, when, until when, and the events on which it rests."""

    by: str
    number: str
    at: datetime
    until: datetime
    basis: tuple[str, ...]


def allowance(trench: Trench, now: datetime, tables: Tables, shift: Shift) -> Allowance | None:
    """The allowance in force, or None.

    It counts only where nothing was missing when it was given, and ends at the time that stood then: no
    figure that is changed later makes it longer. The first event that leaves a fact missing ends it for good:
    what is mended later must be allowed again. While nothing but an open text is in the way it sleeps, and
    wakes where that ends soon enough.
    """
    given = _last_allowed(trench, tables.entry)
    if given is None:
        return None
    event = trench.events[given]
    missing, until = judged(trench.states[given], trench.rulebook, event.at, tables, shift)
    until = min(until, event.until or until)
    if missing or not event.at <= now + tables.entry.figure.clock_skew.span or now >= until:
        return None
    if _rests_on_retold(trench, given):
        return None
    basis = _basis(trench.states[given])
    if any(not set(basis).isdisjoint(e.withdraws) for e in trench.events[given + 1 :]):
        return None
    later = zip(trench.states[given + 1 :], (e.at for e in trench.events[given + 1 :]), strict=True)
    asleep: datetime | None = None
    for state, at in (*later, (trench.now, now)):
        missing, _ = judged(state, trench.rulebook, at, tables, shift)
        if any(each.fact != "open text" for each in missing):
            return None
        if missing:
            asleep = asleep or at
        if asleep and at - asleep > tables.entry.figure.leave_sleeps.span:
            return None
        asleep = asleep if missing else None
    if asleep:
        return None
    return Allowance(event.by, event.number, event.at, until, basis)


def _rests_on_retold(trench: Trench, given: int) -> bool:
    """Whether something was put before an allowance in the order of the record that came in only after it: an
    allowance never comes to life by what is said of an earlier time, or was first said of another trench."""
    came = {each.id: each.came for each in trench.events if each.came is not None}
    given_at = came[trench.events[given].id]
    return any(each.retold and given_at < came[each.id] for each in trench.events[:given])


def may_allow(trench: Trench, role: Role, now: datetime, tables: Tables, shift: Shift) -> bool:
    """Whether a code may be sent to somebody of this role, so that they can let people in."""
    return tables.entry.may(role, "allow") and not judged(trench.now, trench.rulebook, now, tables, shift)[0]


def code_lapses(sent: datetime, tables: Tables) -> datetime:
    """Until when a code sent then counts."""
    return sent + tables.entry.figure.code_life.span


def _last_allowed(trench: Trench, rules: EntryRules) -> int | None:
    for i in range(len(trench.events) - 1, -1, -1):
        if (
            trench.events[i].code_ok
            and not trench.events[i].lapsed
            and rules.may(trench.events[i].role, "allow")
        ):
            return i
    return None


def _basis(state: TrenchState) -> tuple[str, ...]:
    """The events that told the facts, each once."""
    said = [s for s in (state.plan_said, state.inspected, *state.said.values()) if s]
    return tuple(dict.fromkeys(s.event for s in sorted(said, key=lambda s: s.at)))
