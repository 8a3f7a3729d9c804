"""The next step of the dig or of the taking out, as the record stands.

No step is offered while what it needs is not on record. What no text can tell (that the face stands, that
nobody is in) is said in the step itself.
"""

from datetime import datetime

from knowledge.entry.missing import judged, missing_of
from knowledge.entry.steps import Action, Step, dig_in, take_out
from knowledge.outcome import EntryFact, Missing
from knowledge.reading import Frozen
from knowledge.record.set_shores import Bands
from knowledge.record.shift import Shift
from knowledge.record.state import TrenchState
from knowledge.record.trench import Trench
from knowledge.tables.load import Tables
from knowledge.tables.step_rules import Need
from knowledge.units import Metre

# Nothing goes on with one of these.
_FIRST: tuple[EntryFact, ...] = ("open hazard", "stopped", "open text", "plan changed", "sizing")
_NEEDED: dict[Need, EntryFact] = {
    "services located": "services",
    "ladder in": "ladder",
    "ends closed": "ends",
}


# The fact that tells that a step of the dig is done.
_TELLS: dict[Action, EntryFact] = {
    "prop": "surface propped",
    "ends": "ends",
    "ladder": "ladder",
    "inspect": "inspection",
}


class NextStep(Frozen):
    """The step to take, or what must be on record first. Neither: all steps are done."""

    step: Step | None = None
    missing: tuple[Missing, ...] = ()


def next_step(trench: Trench, now: datetime, tables: Tables, shift: Shift) -> NextStep:
    """The next step: of taking out once backfill or units out are told, else of the dig."""
    state = trench.now
    missing, _ = judged(state, trench.rulebook, now, tables, shift)
    if first := tuple(each for each in missing if each.fact in _FIRST):
        return NextStep(missing=first)
    assert state.plan is not None  # else `sizing` would be missing
    tape = tables.entry.figure.tape_tolerance.si
    out = state.taking_out
    steps = take_out(state.plan, tables) if out else dig_in(state.plan, tables)
    for step in steps:
        done = _taken_out(state, step, tape) if out else _dug_in(state, step, tape, missing)
        if not done:
            wanted = _wanted(trench, step, missing, tables)
            return NextStep(missing=wanted) if wanted else NextStep(step=step)
    return NextStep()


def first_out(trench: Trench, tables: Tables) -> Step | None:
    """The step of the taking out that comes next as the record stands, whatever else is missing; None without
    a plan, or where all are done."""
    state = trench.now
    if state.plan is None:
        return None
    tape = tables.entry.figure.tape_tolerance.si
    return next((step for step in take_out(state.plan, tables) if not _taken_out(state, step, tape)), None)


def _dug_in(state: TrenchState, step: Step, tape: Metre, missing: tuple[Missing, ...]) -> bool:
    """Whether a step of the dig is done. A level set tells that it was dug to."""
    shores, facts = state.shores, {each.fact for each in missing}
    if step.action == "set" and step.level:
        return shores.level_set(step.level - 1)
    if step.action == "dig" and step.depth_m is not None:
        assert state.plan is not None
        bites = zip(state.plan.stages_m, range(len(shores.layout)), strict=False)
        set_there = any(bite >= step.depth_m and shores.level_set(i) for bite, i in bites)
        return set_there or (state.dug_m or 0.0) >= step.depth_m - tape
    return _TELLS[step.action] not in facts


def _taken_out(state: TrenchState, step: Step, tape: Metre) -> bool:
    """Whether a step of the taking out is done. A level out tells that it was filled up to."""
    shores = state.shores
    if step.level is None:
        return state.closed is not None
    out = not shores.level_set(step.level - 1) and not shores.counts[step.level - 1]
    if step.action == "release" or out:
        return out
    return state.filled_m is not None and step.depth_m is not None and state.filled_m <= step.depth_m + tape


def _wanted(trench: Trench, step: Step, missing: tuple[Missing, ...], tables: Tables) -> tuple[Missing, ...]:
    """What the step needs and the record does not show."""
    wanted = [each for need in step.needs for each in missing if each.fact == _NEEDED.get(need)]
    if "levels hold" in step.needs:
        unread = _not_holding(trench.now, tables)
        if unread:
            wanted.append(missing_of(trench.rulebook, "pressure", "some", {"units": unread}, tables))
    return tuple(wanted)


def _not_holding(state: TrenchState, tables: Tables) -> str:
    """Units of the levels set whose gauge is not on record inside the band, as printed; "" where all hold."""
    assert state.plan is not None
    bands, shores = Bands.of(state.plan, tables.entry), state.shores
    units = [n for i in range(len(shores.layout)) if shores.level_set(i) for n in shores.units_of(i)]
    holding = {n for n, g in shores.gauges.items() if g.sure and bands.well_set(g)}
    return shores.listed([n for n in units if n not in holding])
