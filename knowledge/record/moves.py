"""People, units and hours of a trench as told: who is in, what was carried off, who has it."""

from dataclasses import replace

from knowledge.reading import Details, Heads, Reading, UnitsMoved
from knowledge.record.runs import filled, moved_on
from knowledge.record.state import Event, Handed, InspectionCause, Parked, Tagged, ToldBy, TrenchState
from knowledge.tables.entry_rules import EntryRules


def before_works(state: TrenchState, event: Event, said: ToldBy) -> TrenchState:
    """A dig that moves on is another run before anything else of the text is taken."""
    run_m = event.reading.run_m
    if event.open_text:
        return state
    if event.reading.purpose == "moved":
        return moved_on(state, run_m, said)
    if run_m and event.reading.purpose == "report":  # opened so much at a time: that is what is sized
        details = state.details.model_copy(update={"length_m": run_m})
        return replace(state, run_by_m=run_m, details=details)
    return state


def after_works(
    before: TrenchState, state: TrenchState, event: Event, said: ToldBy, rules: EntryRules
) -> TrenchState:
    """What the text tells of units that moved, people, and who keeps the trench; `before` it was told."""
    reading = event.reading
    if event.open_text:
        return state  # what it says was not understood
    if reading.moved:
        state = _units(state, reading.moved, said, may_clear=_supervises(event, rules))
    set_since = state.shores.standing - before.shores.standing
    if set_since > 0:
        state = replace(state, arrived=max(0, state.arrived - set_since), strip=None)
    if reading.heads:
        left = heads_after(state.heads, reading.heads)
        state = replace(state, heads=left, heads_said=said)
    if reading.place:
        state = replace(state, place=reading.place)
    if reading.run and "backfill" in reading.done:
        said_before = {**state.said}
        if "backfill" not in before.said:
            said_before.pop("backfill", None)  # it is told of a run left behind, and not of the open one
        state = filled(replace(state, said=said_before), reading.run, said)
    if reading.purpose == "parked":
        state = _parked(state, event, said)
    elif reading.guarded == "fence and lights" and state.parked:
        state = replace(state, parked=replace(state.parked, looked=said))
    if reading.purpose == "strip" and _supervises(event, rules):
        state = replace(state, strip=said)
    return _handed(state, event, said)


def _supervises(event: Event, rules: EntryRules) -> bool:
    return rules.may(event.role, "inspect") and not event.lapsed


def heads_after(heads: int, told: Heads) -> int:
    """How many are in after so many went in or came out; never below nought."""
    return max(0, heads + (told.in_ or 0) - (told.out or 0))


def only_told(reading: Reading) -> bool:
    """Whether a report tells nothing of the works: heads, a place, units that moved. It is no other way of
    saying what was not understood before."""
    works = (reading.done, reading.undone, reading.gauges, reading.units_set, reading.air)
    return reading.run is not None or not (any(works) or _details(reading))


def _details(reading: Reading) -> bool:
    return any(getattr(reading, name) not in (None, ()) for name in Details.model_fields)


def _units(state: TrenchState, moved: UnitsMoved, said: ToldBy, *, may_clear: bool) -> TrenchState:
    n = moved.n or 1
    if moved.how == "arrived":
        return replace(state, arrived=state.arrived + n)
    if moved.how == "cleared":
        return replace(state, tagged=_fewer(state.tagged, n)) if may_clear else state
    cause = state.inspection_cause
    if not (cause and cause.why == "hazard"):
        state = replace(state, inspection_cause=InspectionCause("units", said.at))
    if moved.how == "replaced":  # these stand, and those they replaced no longer do, whatever was told set
        planned = state.shores.planned
        gone = n if planned is None else state.shores.standing + n - planned
        shores = state.shores.less(gone, moved.unit) if gone > 0 else state.shores
        return replace(state, tagged=_fewer(state.tagged, n), shores=shores)
    if moved.how == "damaged":
        state = replace(state, tagged=(*state.tagged, Tagged(n, said)))
    return replace(state, shores=state.shores.less(n, moved.unit))


def _fewer(tagged: tuple[Tagged, ...], n: int) -> tuple[Tagged, ...]:
    left = []
    for each in tagged:
        gone = min(n, each.n)
        n -= gone
        if each.n > gone:
            left.append(replace(each, n=each.n - gone))
    return tuple(left)


def _parked(state: TrenchState, event: Event, said: ToldBy) -> TrenchState:
    reading = event.reading
    cause = state.inspection_cause
    if not (cause and cause.why == "hazard"):
        cause = InspectionCause("parked", said.at)
    looked = said if reading.guarded == "fence and lights" else None
    parked = Parked(said, event.number, reading.until or "", looked)
    return replace(state, parked=parked, inspection_cause=cause)


def _handed(state: TrenchState, event: Event, said: ToldBy) -> TrenchState:
    reading, handed = event.reading, state.handed
    if reading.purpose == "handover" and reading.to:
        return replace(state, handed=Handed(said, event.number, reading.to, reading.until or ""))
    if reading.purpose == "take":
        before = handed if handed and handed.name.casefold() == event.by.casefold() else None
        taken = replace(before or Handed(said, event.number, event.by), taken=said)
        return replace(state, handed=taken)
    return state
