"""How one event changes the record: `after`, in small steps from one frozen state to the next."""

from dataclasses import replace
from datetime import timedelta
from typing import Literal

from knowledge.outcome import Sized
from knowledge.reading import Details, Hazard, Purpose, Reading, details_of
from knowledge.record import in_doubt, moves
from knowledge.record.adverse import adverse
from knowledge.record.air import air_judged
from knowledge.record.described import beside_told, services_told, soil_told
from knowledge.record.plan_changes import changes
from knowledge.record.set_shores import UNKNOWN, Bands, SetShores
from knowledge.record.state import Event, InspectionCause, OpenHazard, ToldBy, Topic, TrenchState
from knowledge.sourced import Rulebook
from knowledge.tables.entry_rules import Act, EntryRules, WorkChange
from knowledge.tables.load import Tables
from knowledge.units import Metre

_DETAILS: dict[Topic, str] = {"water": "water", "ends": "ends", "spoil": "spoil_m"}
_TELLING: frozenset[Purpose] = frozenset({"size", "report"})


def after(state: TrenchState, event: Event, tables: Tables, rulebook: Rulebook) -> TrenchState:
    """The state once `event` has been told. A role that may not tell changes nothing but hazards, stops and
    what nobody understood; a text with words left over changes it only for the worse."""
    rules = tables.entry
    reading = air_judged(_in_its_order(event), rules.air.limits[rulebook])
    sure = reading.whole and not reading.hazards  # with danger in a text nothing else in it is for entry
    joins = reading.answer == "yes" and event.number in state.apart
    if joins:
        state = replace(state, apart=tuple(one for one in state.apart if one != event.number))
    if event.other_crew or event.number in state.apart:
        reading = _of_others(state, reading, tables)
    elif not sure:
        reading = adverse(state, reading, tables)
    if reading is not event.reading:
        event = replace(event, reading=reading)
    if event.offered and in_doubt.all_known(state, event.offered, rules):
        event = replace(event, open_text=True)  # it came in before what was sent before it
    said = ToldBy(event.sent or event.at, event.by, event.role, event.id)

    def may(act: Act) -> bool:
        return rules.may(event.role, act)

    dangers = reading.hazards or reading.possible_hazard
    if state.closed and (
        dangers or (reading.purpose in _TELLING and may("tell") and not _late_note(reading))
    ):
        state = _opened_again(state)
    if event.other_crew and event.number not in state.apart:
        state = replace(state, apart=(*state.apart, event.number))
    if event.number not in state.told:
        state = replace(state, told=(*state.told, event.number))
    state = in_doubt.answered(state, event, rules)
    state = _told_anew(state, reading, tables)
    signs: frozenset[Hazard] = frozenset()
    if may("tell") and not state.closed:
        before, state = state, moves.before_works(state, event, said)
        state, signs = _worked(state, event, said, tables)
        state = moves.after_works(before, state, event, said, rules)
    state = _endangered(state, event, said, {*reading.hazards, *signs}, tables)
    state = in_doubt.begun(state, event, said, rules)
    if _answers_alarm(state, event, rules):
        state = replace(state, alarm_answered=said)
    if "inspection" in reading.undone:
        state = replace(state, inspected=None)
    elif in_doubt.inspects(event, rules):
        state = _inspected(state, event, said, tables)
    if may("close") and reading.purpose == "close":
        state = replace(state, closed=said)
    return state


def _in_its_order(event: Event) -> Reading:
    """What was sent after a sizing, and came in before it, still holds: it stands in what was sized."""
    told, then = event.reading, event.sized_on
    if then is None or event.sent is None:
        return told
    names = [name for name in Details.model_fields if getattr(told, name) not in (None, ())]
    return told.model_copy(update={name: getattr(then, name) for name in names})


def _answers_alarm(state: TrenchState, event: Event, rules: EntryRules) -> bool:
    """ "on my way", or whatever a supervisor or the office texts of the trench after the alarm."""
    if not state.hazards or state.alarm_answered or (state.alarm_at and event.at < state.alarm_at):
        return False
    comes = event.reading.answer in ("coming", "seen")
    return comes or (not event.reading.hazards and rules.may(event.role, "inspect"))


def _late_note(reading: Reading) -> bool:
    """ "T9 backfilled" under a closed reference: it is told of the trench that was, and begins none."""
    done = {*reading.done}
    return bool(done) and done <= {"backfill", "units out"} and details_of(reading) == Details()


def _of_others(state: TrenchState, reading: Reading, tables: Tables) -> Reading:
    """What counts here of a text by somebody who works at another trench under this name: as of any text that
    is not sure, what is worse. How they size theirs is nothing worse of this one."""
    stops = reading.purpose == "stop" or reading.verdict == "not safe"
    purpose = "stop" if stops else "report" if reading.purpose != "size" else "unclear"
    said = reading.model_copy(update={"purpose": purpose, "left_over": ("another trench",)})
    if reading.purpose == "size":
        said = said.model_copy(update=Details().model_dump())
    return adverse(state, said, tables)


def _opened_again(state: TrenchState) -> TrenchState:
    """What is told under a closed reference starts from nothing, but nothing that stands against entry is
    forgotten by it."""
    return TrenchState(
        told=state.told,
        hazards=state.hazards,
        possible=state.possible,
        doubted=state.doubted,
        open_texts=state.open_texts,
        stopped=state.stopped,
        inspection_cause=state.inspection_cause,
        air_suspect=state.air_suspect,
        heads=state.heads,
        heads_said=state.heads_said,
        place=state.place,
    )


def _worked(
    state: TrenchState, event: Event, said: ToldBy, tables: Tables
) -> tuple[TrenchState, frozenset[Hazard]]:
    """Take down the works as told, and say what the gauges are a sign of."""
    before, reading, rules = state, event.reading, tables.entry
    tape = rules.figure.tape_tolerance.si
    state = _described(state, reading, said)
    state = _sized(state, event, said)
    state = _dug(state, reading, said)
    state = _done(state, reading, said, rules)
    bands = Bands.of(state.plan, rules)
    shores, signs = state.shores.after(reading, state.dug_m, event.at, bands)
    last_at = event.at if reading.whole else state.last_at
    state = _held_against_plan(replace(state, shores=shores, last_at=last_at), tape)
    moved_on = event.reading.purpose == "moved"  # another run has its own cause already
    change = None if moved_on else _change(before, state, bands, rules.figure.pause.span)
    if change in rules.inspect_after and not (
        state.inspection_cause and state.inspection_cause.why == "hazard"
    ):
        state = replace(state, inspection_cause=InspectionCause(change, event.at))
    return state, signs


def _told_anew(state: TrenchState, reading: Reading, tables: Tables) -> TrenchState:
    """Forget what a hazard puts in doubt, before anything that the same message tells."""
    if not reading.hazards:
        return state
    said = dict(state.said)
    for kind in reading.hazards:
        rule = tables.hazards.hazard[kind]
        for fact in rule.again:
            said.pop(fact, None)
            if fact == "pressure" and not reading.gauges:
                state = replace(state, shores=state.shores.doubted())
        state = replace(state, air_suspect=state.air_suspect or rule.air)
    return replace(state, said=said)


def _described(state: TrenchState, reading: Reading, said: ToldBy) -> TrenchState:
    """Take the trench details: the later told wins, and what is not said erases nothing.

    Only a sizing message tells the full depth; a report tells how deep it is dug, which may be a stage.
    What is told with words left over is told as nothing fresh, and what it changes is no longer as it was
    told.
    """
    old, new = state.details, details_of(reading)
    told = {name: value for name in Details.model_fields if (value := getattr(new, name)) not in (None, ())}
    if reading.purpose != "size":
        told.pop("depth_m", None)
    if not told:
        return state
    if new.soil:
        told["soil"] = soil_told(old.soil, new.soil)
    if new.services:
        told["services"] = services_told(old.services, new.services)
    if new.beside:
        told["beside"] = beside_told(old.beside, new.beside)
    topics = dict(state.said)
    for topic, name in _DETAILS.items():
        if name in told and reading.whole:
            topics[topic] = said
        elif reading.purpose == "size" and name in told and told[name] != getattr(old, name):
            topics.pop(topic, None)
    if new.spoil_m is not None:
        state = replace(state, spoil_m=new.spoil_m)
    return replace(state, details=old.model_copy(update=told), said=topics)


def _sized(state: TrenchState, event: Event, said: ToldBy) -> TrenchState:
    """A new plan must be set anew, unless the last one still fits and asks for the very same shores."""
    if event.stopped:
        return replace(state, refused=True)
    if event.plan is None:
        return state
    old = state.plan if not state.changed else None
    same = old is not None and _shores_of(old) == _shores_of(event.plan)
    return replace(
        state,
        plan=event.plan,
        planned=event.sized_on,
        plan_said=said,
        refused=False,
        shores=state.shores if same else SetShores.of(event.plan, state.shores, event.id),
    )


def _shores_of(plan: Sized) -> tuple[object, ...]:
    return plan.levels, plan.strut.size, plan.strut.extensions_m, plan.boards


def _dug(state: TrenchState, reading: Reading, said: ToldBy) -> TrenchState:
    if reading.depth_m is None or reading.purpose == "size":
        return state
    if "backfill" in reading.done:
        return replace(state, filled_m=reading.depth_m)
    topics = {topic: by for topic, by in state.said.items() if topic != "dug"}
    if not reading.whole:  # of a depth heard beside words left over nobody has told how deep it is
        return replace(state, dug_m=reading.depth_m, said=topics)
    return replace(state, dug_m=reading.depth_m, dug_told_m=reading.depth_m, said=topics | {"dug": said})


def _done(state: TrenchState, reading: Reading, said: ToldBy, rules: EntryRules) -> TrenchState:
    """Take what is done; what is said to be undone counts last, since doubt never passes."""
    if not (reading.done or reading.undone or reading.units_set):
        return state
    topics = dict(state.said)
    if reading.units_set and "units out" not in reading.done and "units set" not in reading.undone:
        topics.pop("units out", None)
        topics.pop("backfill", None)
    for done in reading.done:
        if (topic := rules.done[done]) and reading.whole:
            topics[topic] = said
        if done == "ends battered" or done == "ends supported":
            ends: Literal["battered", "supported"] = "battered" if done == "ends battered" else "supported"
            state = replace(state, details=state.details.model_copy(update={"ends": ends}))
        if done == "spoil back" and reading.spoil_m is None:
            state = replace(state, spoil_m=None)
    for undone in reading.undone:
        topics.pop(rules.done[undone], None)
    return replace(state, said=topics)


def _held_against_plan(state: TrenchState, tape: Metre) -> TrenchState:
    if state.plan is None or state.planned is None:
        return state
    changed = changes(state.plan, state.planned, state.whole, tape)
    return state if changed == state.changed else replace(state, changed=changed)


def _change(before: TrenchState, state: TrenchState, bands: Bands, pause: timedelta) -> WorkChange | None:
    """What the last inspection has not seen: another plan, another depth, units set or taken, a break."""
    if state.shores.laid_by != before.shores.laid_by:
        return "plan"
    if (state.dug_m, state.dug_told_m) != (before.dug_m, before.dug_told_m):
        return "dig"
    if (state.changed, state.refused) != (before.changed, before.refused):
        return "plan"
    if state.shores.standing != before.shores.standing or _pumped_anew(before.shores, state.shores, bands):
        return "units"
    if before.last_at and state.last_at and state.last_at - before.last_at >= pause:
        return "pause"
    return None


def _pumped_anew(before: SetShores, now: SetShores, bands: Bands) -> bool:
    """Whether a unit of which no good gauge was known has one now: who looked before saw it otherwise."""
    known = {unit for unit, gauge in before.gauges.items() if bands.well_set(gauge)}
    named = ((unit, gauge) for unit, gauge in now.gauges.items() if unit != UNKNOWN)
    return any(unit not in known and bands.well_set(gauge) for unit, gauge in named)


def _endangered(
    state: TrenchState, event: Event, said: ToldBy, kinds: set[Hazard], tables: Tables
) -> TrenchState:
    """Open every hazard told, and those that gauges are a sign of; worst first."""
    if not kinds:
        return state
    known = {each.kind: each for each in state.hazards}
    every = dict(known)
    for kind in kinds:
        new = OpenHazard(kind, said, event.came or 0, event.heard)
        old = known.get(kind, new)
        every[kind] = replace(old, came=max(old.came, new.came), heard=max(old.heard, new.heard))
    order = list(tables.hazards.hazard)
    worst_first = sorted(every.values(), key=lambda each: order.index(each.kind))
    worst = min(kinds, key=order.index)
    return replace(
        state,
        hazards=tuple(worst_first),
        inspection_cause=InspectionCause("hazard", said.at, worst),
        alarm_at=said.at,
        alarm_answered=said if tables.entry.may(event.role, "inspect") else None,
    )


def _inspected(state: TrenchState, event: Event, said: ToldBy, tables: Tables) -> TrenchState:
    """The competent person has seen the trench: every hazard is cleared that had been told by then.

    One told in the same text is not, nor one that was sent before but came in after: they did not know what
    to look for. Nor is one that came in before this did, but after this was sent: it was an earlier look.
    """
    left = tuple(each for each in state.hazards if each.came >= (event.came or 0) or each.heard > event.at)
    inspection_cause = InspectionCause("hazard", left[0].said.at, left[0].kind) if left else None
    kit = tables.kits.get(state.plan.kit) if state.plan else None
    shores = state.shores.accepted(Bands.of(state.plan, tables.entry), kit.held_bar if kit else 0.0)
    state = in_doubt.inspected(state, event)
    return replace(
        state,
        inspected=said,
        inspection_cause=inspection_cause,
        hazards=left,
        shores=shores,
        parked=None,
        strip=None,
    )
