"""What falls due as time goes by: inspections, lapsing allowances, gauges to read again, trenches left open.

Worked from the records alone: whoever sends the reminders keeps only which keys went out, so that a restart
loses none and none goes out twice.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from knowledge.entry.may_enter import allowance
from knowledge.record.shift import Shift
from knowledge.record.trench import Trench
from knowledge.tables.entry_rules import Role, WatchRule, filled
from knowledge.tables.load import Tables
from knowledge.units import Amount

DueKind = Literal["inspection", "allowance", "gauge", "open"]


@dataclass(frozen=True)
class Due:
    """A reminder: since when it is due, to which roles of the site, in which words. `key` is its own."""

    key: str
    trench: str
    kind: DueKind
    at: datetime
    to: tuple[Role, ...]
    say: str
    numbers: dict[str, Amount | str]

    @property
    def id(self) -> str:
        """The rule that says so, for other languages."""
        return f"watch.{self.kind}"


def due(trenches: Iterable[Trench], now: datetime, tables: Tables, shift: Shift) -> tuple[Due, ...]:
    """All that is due by `now` on one site, longest due first."""
    found = [each for trench in trenches if not trench.closed for each in _due(trench, now, tables, shift)]
    return tuple(sorted(found, key=lambda each: (each.at, each.key)))


def _due(trench: Trench, now: datetime, tables: Tables, shift: Shift) -> Iterator[Due]:
    rules = tables.entry.watch
    times: list[tuple[DueKind, datetime | None, dict[str, Amount | str]]] = [
        ("inspection", _inspection(trench, now, rules["inspection"], shift), {}),
        ("open", _open(trench, now, rules["open"], shift), {}),
    ]
    if allowed := allowance(trench, now, tables, shift):
        until = {"until": shift.clock(allowed.until, now)}
        times.append(("allowance", allowed.until - rules["allowance"].after.span, {**until}))
    if read := _oldest_reading(trench, now, shift):
        since = {"since": shift.clock(read, now)}
        times.append(("gauge", read + rules["gauge"].after.span, {**since}))
    for kind, at, numbers in times:
        if at is not None and at <= now:
            rule, blanks = rules[kind], {"trench": trench.ref, **numbers}
            key = f"{trench.site}/{trench.ref}/{kind}/{at:%Y%m%dT%H%M%S}"
            yield Due(key, trench.ref, kind, at, rule.to, filled(rule.say, blanks), blanks)


def _inspection(trench: Trench, now: datetime, rule: WatchRule, shift: Shift) -> datetime | None:
    """In a shift: at its begin for a trench carried over, and some time after a hazard."""
    state, begin = trench.now, shift.begin(now)
    if state.plan is None or not shift.on(now):
        return None
    if (
        state.inspection_cause
        and state.inspection_cause.why == "hazard"
        and state.inspection_cause.at >= begin
    ):
        return state.inspection_cause.at + rule.after.span
    if state.inspected and state.inspected.at >= begin:
        return None
    return begin if trench.events[0].at < begin else None


def _oldest_reading(trench: Trench, now: datetime, shift: Shift) -> datetime | None:
    """The oldest gauge reading of this shift, while units stand and it is on."""
    state = trench.now
    if not shift.on(now) or not state.shores.standing or not state.shores.gauges:
        return None
    oldest = min(gauge.at for gauge in state.shores.gauges.values())
    return oldest if oldest >= shift.begin(now) else None


def _open(trench: Trench, now: datetime, rule: WatchRule, shift: Shift) -> datetime | None:
    """Some time before the shift ends, for a trench that is dug or in which units stand."""
    state = trench.now
    end = shift.close(now) if shift.on(now) else shift.begin(now)
    dug = state.dug_m is not None or state.shores.standing > 0
    return end - rule.after.span if dug and trench.events[0].at < end else None
