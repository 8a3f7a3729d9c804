"""What is missing in a trench record, now: every fact of entry judged against its rule.

What is unknown, doubtful or stale is missing; nothing is passed that nobody told.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime

from knowledge.outcome import EntryFact, Missing
from knowledge.record.plan_changes import PlanChange
from knowledge.record.set_shores import Bands, UnitGauge
from knowledge.record.shift import Shift
from knowledge.record.state import Quoted, ToldBy, Topic, TrenchState
from knowledge.sourced import Rulebook
from knowledge.tables.entry_rules import NOISE, SENTENCES, EntryRules, FactRule, filled
from knowledge.tables.load import Tables
from knowledge.units import Amount, Metre

QUOTED_SIGNS = 40  # of words in a reply: the rest is on the log
SentenceValues = dict[str, Amount | str]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one fact comes to: the sentence that says what is missing, or until when it holds."""

    key: str = ""
    numbers: SentenceValues | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class FactContext:
    """All that a fact may look at."""

    state: TrenchState
    now: datetime
    shift: Shift
    rules: EntryRules

    @property
    def depth(self) -> Metre | None:
        """The greater of the depth dug to and the depth planned; None where neither is known."""
        return self.state.depth_m

    def clock(self, when: datetime) -> str:
        return self.shift.clock(when, self.now)

    def said(self, topic: Topic) -> ToldBy | None:
        """Who told it, unless it is dated ahead of us: a wrong clock makes nothing fresh."""
        said = self.state.said.get(topic)
        return said if said and self.in_time(said.at) else None

    def in_time(self, at: datetime) -> bool:
        return at <= self.now + self.rules.figure.clock_skew.span

    def quoted(self, each: Quoted) -> SentenceValues:
        return quoted(each, self.shift, self.now)

    def fresh(self, at: datetime, rule: FactRule) -> Verdict:
        """Whether something told then still counts, and until when."""
        until = self.shift.close(self.now)
        stale = rule.fresh == "shift" and at < self.shift.begin(self.now)
        if rule.lasts:
            lapses = at + rule.lasts.span
            stale = stale or lapses <= self.now
            until = min(until, lapses)
        return Verdict("stale", {"since": self.clock(at)}) if stale else Verdict(until=until)


def quoted(each: Quoted, shift: Shift, now: datetime) -> SentenceValues:
    """Who sent words that are held against entry, when, and how they begin, short enough for a text."""
    words = " ".join(each.words.split())[:QUOTED_SIGNS].strip() or "..."
    return {"name": each.said.by, "since": shift.clock(each.said.at, now), "words": words}


def judged(
    state: TrenchState, rulebook: Rulebook, now: datetime, tables: Tables, shift: Shift
) -> tuple[tuple[Missing, ...], datetime]:
    """What is missing in one state of the record, worst first, and until when the rest holds."""
    rules = tables.entry
    context = FactContext(state, now, shift, rules)
    missing: list[Missing] = []
    until = shift.close(now)
    for name, rule in rules.facts(rulebook):
        for verdict in _FACTS.get(rule.fact, _told)(context, rule):
            if verdict.key:
                missing.append(_missing(name, rule, verdict.key, verdict.numbers or {}))
            elif verdict.until:
                until = min(until, verdict.until)
    if state.last_at and not missing:
        until = min(until, state.last_at + rules.figure.pause.span)
    return tuple(missing), until


def missing_of(
    rulebook: Rulebook, fact: EntryFact, key: str, numbers: SentenceValues, tables: Tables
) -> Missing:
    """One sentence about a missing fact, as the rulebook's row says it."""
    name, rule = next(row for row in tables.entry.facts(rulebook) if row[1].fact == fact)
    return _missing(name, rule, key, numbers)


def _missing(name: str, rule: FactRule, key: str, numbers: SentenceValues) -> Missing:
    return Missing(fact=rule.fact, id=f"{name}.{key}", say=filled(rule.say[key], numbers), numbers=numbers)


def _open_hazard(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    for each in context.state.hazards:
        yield Verdict("open", {"hazard": each.kind, "since": context.clock(each.said.at)})
    yield from (Verdict("possible", context.quoted(each)) for each in context.state.possible)


def _stopped(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    yield from (Verdict("stopped", context.quoted(each)) for each in context.state.stopped)


def _open_text(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    yield from (Verdict("open", context.quoted(each)) for each in context.state.open_texts)


def _plan_changed(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    state = context.state
    if state.plan and state.refused:
        yield Verdict("refused")
    yield from (Verdict(each.what, _measures(each)) for each in state.changed)


def _measures(each: PlanChange) -> SentenceValues:
    if each.found is None:
        return {}
    assert each.planned is not None  # what was found is found of a length that was planned
    return {"found": Amount(each.found, "m"), "planned": Amount(each.planned, "m")}


def _sizing(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    state = context.state
    if state.closed:
        yield Verdict("closed")
    elif state.plan is None:
        yield Verdict("untold")


def _units(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    shores = context.state.shores
    planned = shores.planned
    if planned is None:
        yield Verdict("length" if shores.layout else "untold", {"planned": "?"})
    elif not shores.complete:
        numbers: SentenceValues = {"set": str(shores.standing), "planned": str(planned)}
        yield Verdict("short" if shores.standing else "untold", numbers)
    for tagged in context.state.tagged:
        since = context.clock(tagged.said.at)
        yield Verdict("tagged", {"set": str(tagged.n), "name": tagged.said.by, "since": since})


def _pressure(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    """Every unit set inside the band and not below it since, every planned unit's read in this shift and
    not in doubt since."""
    shores, plan = context.state.shores, context.state.plan
    gauges = {unit: g for unit, g in shores.gauges.items() if context.in_time(g.at)}
    if plan is None or not gauges:
        yield Verdict("untold")
        return
    bands = Bands.of(plan, context.rules)
    outside = [unit for unit, g in sorted(gauges.items()) if not bands.well_set(g)]
    if outside:
        yield Verdict("bad", _out_of_band(outside[0], gauges[outside[0]], *plan.pressure_bar))
        return
    unread = [unit for unit in range(1, (shores.planned or 0) + 1) if unit not in gauges]
    if unread or shores.planned is None:
        yield Verdict("some", {"units": shores.listed(unread) if unread else "?"})
        return
    yield from _still_read(context, rule, gauges)


def _still_read(context: FactContext, rule: FactRule, gauges: dict[int, UnitGauge]) -> Iterator[Verdict]:
    doubtful = [g.at for g in gauges.values() if not g.sure]
    if doubtful:
        yield Verdict("stale", {"since": context.clock(min(doubtful))})
    else:
        yield context.fresh(min(g.at for g in gauges.values()), rule)


def _out_of_band(unit: int, gauge: UnitGauge, low: float, high: float) -> SentenceValues:
    return {
        "unit": str(unit) if unit else "?",
        "bar": Amount(gauge.bar, "bar"),
        "low": Amount(low, "bar", "lower"),
        "high": Amount(high, "bar", "upper"),
    }


def _gap_below(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    """From the lowest planned strut to the bottom as dug; whether it is set is the units' own fact.

    A bottom told above that strut is one of a stage before: how deep it is now is untold.
    """
    state = context.state
    if state.dug_m is None or not context.said("dug") or state.plan is None or rule.limit is None:
        yield Verdict("untold")
        return
    gap = state.dug_m - state.plan.levels[-1].depth_m
    if gap < -NOISE:
        yield Verdict("untold")
    elif gap > rule.limit.si + NOISE:
        yield Verdict("bad", {"gap": Amount(gap, "m"), "limit": _limit(rule)})


def _limit(rule: FactRule) -> Amount:
    assert rule.limit is not None
    return Amount(rule.limit.si, "m", rule.limit.limit)


def _water(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    said = context.said("water")
    if context.state.details.water in ("seeping", "standing"):
        yield Verdict("bad")
    elif said is None:
        yield Verdict("untold")
    else:
        yield context.fresh(said.at, rule)


def _air_test(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    details, air = context.state.details, context.rules.air
    suspect = (
        context.state.air_suspect
        or (details.soil is not None and details.soil.kind in air.soils)
        or any(service.what in air.services for service in details.services)
    )
    if suspect or rule.asked_at(context.depth):
        said = context.said("air test")
        yield context.fresh(said.at, rule) if said else Verdict("untold")


def _inspection(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    state, inspected = context.state, context.state.inspected
    if inspected is None or not context.in_time(inspected.at):
        yield Verdict("untold")
    elif state.inspection_cause:
        numbers: SentenceValues = {"since": context.clock(state.inspection_cause.at)}
        yield Verdict(state.inspection_cause.why, numbers | {"hazard": state.inspection_cause.kind or ""})
    elif state.last_at and context.now - state.last_at >= context.rules.figure.pause.span:
        yield Verdict("pause", {"since": context.clock(state.last_at)})
    else:
        yield context.fresh(inspected.at, rule)


def _services(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    """Located, and supported unless every one of them is known to lie deeper than the trench."""
    if not context.said("services located"):
        yield Verdict("untold")
    depth = context.depth
    bare = [
        s for s in context.state.details.services if s.depth_m is None or depth is None or s.depth_m <= depth
    ]
    if bare and not context.said("services supported"):
        yield Verdict("unsupported")


def _told(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    """Told by something done, where the depth asks for it, and fresh: a fact that its row alone judges."""
    if rule.asked_at(context.depth):
        said = context.said(rule.fact)
        yield context.fresh(said.at, rule) if said else Verdict("untold")


def _ends(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    if not context.said("ends"):
        yield Verdict("untold")
    elif context.state.details.ends not in ("battered", "supported"):
        yield Verdict("bad")


def _spoil(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    """Told back, or a distance told that is enough."""
    said, found = context.said("spoil"), context.state.spoil_m
    if said is None:
        yield Verdict("untold", {"limit": _limit(rule)})
    elif found is not None and rule.limit and found < rule.limit.si - NOISE:
        yield Verdict("bad", {"found": Amount(found, "m"), "limit": _limit(rule)})
    else:
        yield context.fresh(said.at, rule)


def _surface_propped(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    """Where the plan has props: told set, and looked at in this shift."""
    plan = context.state.plan
    if plan and plan.props:
        said = context.said("surface propped")
        yield context.fresh(said.at, rule) if said else Verdict("untold", {"planned": str(plan.props.count)})


def _table_on_site(context: FactContext, rule: FactRule) -> Iterator[Verdict]:
    """Where the plan rests on it: from a depth on by the rulebook, and where the supplier's table governs."""
    plan = context.state.plan
    by_depth = rule.from_depth is not None and rule.asked_at(context.depth)
    if plan and (by_depth or plan.governed_by == "table") and not context.said("table on site"):
        yield Verdict("untold")


_FACTS: dict[EntryFact, Callable[[FactContext, FactRule], Iterator[Verdict]]] = {
    "open hazard": _open_hazard,
    "stopped": _stopped,
    "open text": _open_text,
    "plan changed": _plan_changed,
    "sizing": _sizing,
    "units": _units,
    "pressure": _pressure,
    "gap below": _gap_below,
    "water": _water,
    "air test": _air_test,
    "inspection": _inspection,
    "services": _services,
    "ends": _ends,
    "spoil": _spoil,
    "table on site": _table_on_site,
    "surface propped": _surface_propped,
}
if _FACTS.keys() != SENTENCES.keys():
    odd = min(_FACTS.keys() ^ SENTENCES.keys())
    raise LookupError(
        f"knowledge/entry/missing.py: {odd!r} must stand in _FACTS and in entry_rules.SENTENCES"
    )
