"""What falls due as time goes by: inspections, lapsing allowances, gauges to read again, trenches left open.

Worked from the records alone: whoever sends the reminders keeps only which keys went out, so that a restart
loses none and none goes out twice.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Literal

from knowledge.entry.may_enter import allowance
from knowledge.record.shift import Shift
from knowledge.record.trench import Trench
from knowledge.tables.entry_rules import Role, WatchRule, filled
from knowledge.tables.load import Tables
from knowledge.units import Amount

DueKind = Literal["inspection", "allowance", "gauge", "open", "guard", "note", "alarm", "alarm office"]
ALARMS: tuple[DueKind, ...] = ("alarm", "alarm office")  # at any hour; all else waits for the day


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
    return tuple(each for each in ahead(trenches, now, tables, shift) if each.at <= now)


def ahead(trenches: Iterable[Trench], now: datetime, tables: Tables, shift: Shift) -> tuple[Due, ...]:
    """All that falls due until the shift's span ends, what is overdue among it, soonest first."""
    end = shift.close(now)
    found = [
        each
        for trench in trenches
        if not trench.closed
        for each in _times(trench, now, tables, shift)
        if each.at <= end
    ]
    return tuple(sorted(found, key=lambda each: (each.at, each.key)))


def _times(trench: Trench, now: datetime, tables: Tables, shift: Shift) -> Iterator[Due]:
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
    if parked := trench.now.parked:
        looked = parked.looked or parked.said
        blanks: dict[str, Amount | str] = {"name": _keeper(trench), "since": shift.clock(looked.at, now)}
        times.append(("guard", looked.at + tables.entry.figure.guard.span, blanks))
    for text, until_at in expiries(trench, shift):
        said: dict[str, Amount | str] = {"words": text[:40], "until": shift.clock(until_at, now)}
        times.append(("note", until_at - rules["note"].after.span, said))
    times += _unanswered(trench, tables, shift, now)
    for kind, at, numbers in times:
        if at is not None:
            at = at if kind in ALARMS else shift.awake(at)
            rule, filled_in = rules[kind], {"trench": trench.ref, **numbers}
            key = f"{trench.site}/{trench.ref}/{kind}/{at:%Y%m%dT%H%M%S}"
            yield Due(key, trench.ref, kind, at, rule.to, filled(rule.say, filled_in), filled_in)


def _keeper(trench: Trench) -> str:
    """Who looks after a parked trench: who took it over, else who left it so."""
    now = trench.now
    assert now.parked is not None
    return now.handed.name if now.handed and now.handed.taken else now.parked.said.by


def expiries(trench: Trench, shift: Shift) -> list[tuple[str, datetime]]:
    """The notes that say until when something holds, with that time: the next of its clock after the note."""
    found = []
    for event in trench.events:
        until = event.reading.until
        if event.reading.purpose == "note" and until:
            local = event.at.astimezone(shift.zone)
            at = datetime.combine(local.date(), time.fromisoformat(until), shift.zone)
            found.append((event.words, (at if at > event.at else at + timedelta(days=1)).astimezone(UTC)))
    return found


def _unanswered(
    trench: Trench, tables: Tables, shift: Shift, now: datetime
) -> list[tuple[DueKind, datetime | None, dict[str, Amount | str]]]:
    """An alarm that nobody has answered: the supervisors hear it again, then the office."""
    state, wait = trench.now, tables.entry.figure.answer_alarm.span
    if not state.hazards or state.alarm_answered:
        return []
    first = state.alarm_at or min(each.said.at for each in state.hazards)
    blanks: dict[str, Amount | str] = {
        "since": shift.clock(first, now),
        "hazard": ", ".join(each.kind for each in state.hazards),
        "place": f" ({state.place})" if state.place else "",
    }
    return [("alarm", first + wait, {**blanks}), ("alarm office", first + 2 * wait, {**blanks})]


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
    if state.parked:
        return None  # it is known to stay open, and somebody looks after it
    end = shift.close(now) if shift.on(now) else shift.begin(now)
    dug = state.dug_m is not None or state.shores.standing > 0
    return end - rule.after.span if dug and trench.events[0].at < end else None
