"""What is on record about one trench, and how one event changes it.

`after(state, event, tables)` is the whole of it: small steps, each from one frozen state to the next.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Literal

from knowledge.changes import Changed, changes
from knowledge.entry_rules import Act, Role
from knowledge.outcome import Sized
from knowledge.reading import Details, Done, Hazard, Reading, Soil, details_of
from knowledge.setting import Gauges, Shores
from knowledge.tables import Tables
from knowledge.units import Metre

Topic = Literal[
    "dug",
    "water",
    "ends",
    "spoil",
    "ladder",
    "services located",
    "services supported",
    "air test",
    "backfill",
]
_TOPICS: dict[Done, Topic] = {
    "ladder": "ladder",
    "ends battered": "ends",
    "ends supported": "ends",
    "spoil back": "spoil",
    "services located": "services located",
    "services supported": "services supported",
    "air test": "air test",
    "backfill": "backfill",
}


@dataclass(frozen=True, slots=True)
class Event:
    """One thing told about a trench.

    `at` is when it was sent, UTC, and never later than it came in. `plan` is the sizing answer given to it
    and `sized_on` the details that answer was worked from; `stopped` says that no plan came of what was
    told; `code_ok` that the code sent to the number on file came back from that number in time.
    """

    id: str
    at: datetime
    by: str
    number: str
    role: Role
    reading: Reading
    plan: Sized | None = None
    sized_on: Details | None = None
    stopped: bool = False
    code_ok: bool = False

    def __post_init__(self) -> None:
        if (self.plan is None) != (self.sized_on is None):
            raise ValueError("a plan and the details it was sized on come together")


@dataclass(frozen=True, slots=True)
class Said:
    """Who told a fact, when, and in which event."""

    at: datetime
    by: str
    role: Role
    event: str


@dataclass(frozen=True, slots=True)
class Open:
    """A hazard that nobody has re-inspected."""

    kind: Hazard
    said: Said


@dataclass(frozen=True, slots=True)
class Shaken:
    """The last thing that calls for a new inspection: a hazard, or a change of the works."""

    why: Literal["hazard", "plan", "dig", "units", "pause"]
    at: datetime
    kind: Hazard | None = None


@dataclass(frozen=True, slots=True)
class State:
    """A trench as it stands. None or absent is untold."""

    details: Details = field(default_factory=Details)
    plan: Sized | None = None
    planned: Details | None = None
    plan_said: Said | None = None
    refused: bool = False
    changed: tuple[Changed, ...] = ()
    dug_m: Metre | None = None
    filled_m: Metre | None = None  # backfilled up to this depth below ground
    spoil_m: Metre | None = None  # None with the topic "spoil" told: back, no distance said
    shores: Shores = field(default_factory=Shores)
    said: Mapping[Topic, Said] = field(default_factory=dict)
    hazards: tuple[Open, ...] = ()
    air_suspect: bool = False
    inspected: Said | None = None
    shaken: Shaken | None = None
    closed: Said | None = None
    told: tuple[str, ...] = ()  # numbers that have texted about this trench, first come first
    last_at: datetime | None = None

    @property
    def whole(self) -> Details:
        """The details with the depth as told for the whole trench or as dug, whichever is greater."""
        depths = [d for d in (self.details.depth_m, self.dug_m) if d is not None]
        return self.details.model_copy(update={"depth_m": max(depths, default=None)})

    @property
    def holds(self) -> bool:
        """Whether a plan is in force for the trench as it now is."""
        return self.plan is not None and not self.refused and not self.changed


def after(state: State, event: Event, tables: Tables) -> State:
    """The state once `event` has been told. A role that may not tell changes nothing but hazards."""
    rules = tables.entry
    if state.closed and event.plan:
        state = State(told=state.told)
    reading, said = event.reading, Said(event.at, event.by, event.role, event.id)

    def may(act: Act) -> bool:
        return rules.may(event.role, act)

    state = _heard(state, event, rules.span("pause"))
    state = _told_anew(state, reading, tables)
    fell = False
    if may("tell"):
        before = state
        tape = rules.figure.tape_tolerance.value
        state = _described(state, reading, said)
        state = _sized(state, event, said)
        state = _dug(state, reading, said, tape)
        state = _done(state, reading, said)
        shores, fell = state.shores.after(
            reading, state.plan, state.dug_m, Gauges(event.at, rules.figure.least_fall.value)
        )
        state = replace(state, shores=shores)
        state = _held_against_plan(state, tape)
        state = _works_changed(before, state, event.at)
    state = _endangered(state, reading, said, fell, tables)
    if "inspection" in reading.undone:
        state = replace(state, inspected=None)
    if may("inspect") and "inspection" in reading.done and not reading.hazards and not fell:
        state = replace(state, inspected=said, shaken=None, hazards=(), shores=state.shores.accepted())
    if may("close") and reading.purpose == "close":
        state = replace(state, closed=said)
    return state


def _heard(state: State, event: Event, pause: timedelta) -> State:
    """Somebody texted; after a long silence the trench must be inspected again."""
    if state.last_at and event.at - state.last_at > pause:
        state = replace(state, shaken=Shaken("pause", event.at))
    told = state.told if event.number in state.told else (*state.told, event.number)
    return replace(state, told=told, last_at=event.at)


def _told_anew(state: State, reading: Reading, tables: Tables) -> State:
    """Forget what a hazard puts in doubt, before anything that the same message tells."""
    said = dict(state.said)
    for kind in reading.hazards:
        rule = tables.hazards.hazard[kind]
        for fact in rule.again:
            if fact == "water" or fact == "air test":
                said.pop(fact, None)
            if fact == "pressure" and not reading.gauges:
                state = replace(state, shores=state.shores.doubted())
        state = replace(state, air_suspect=state.air_suspect or rule.air)
    return replace(state, said=said)


def _described(state: State, reading: Reading, said: Said) -> State:
    """Take the trench details: the later told wins, and what is not said erases nothing.

    Only a sizing message tells the full depth; a report tells how deep it is dug, which may be a stage.
    """
    old, new = state.details, details_of(reading)
    told = {name: value for name in Details.model_fields if (value := getattr(new, name)) not in (None, ())}
    if reading.purpose != "size":
        told.pop("depth_m", None)
    if new.soil:
        told["soil"] = _soil(old.soil, new.soil)
    topics: dict[Topic, Said] = {}
    if new.water:
        topics["water"] = said
    if new.ends:
        topics["ends"] = said
    if new.spoil_m is not None:
        topics["spoil"] = said
        state = replace(state, spoil_m=new.spoil_m)
    return replace(state, details=old.model_copy(update=told), said={**state.said, **topics})


def _soil(old: Soil | None, new: Soil) -> Soil:
    """A state alone ("firm") or a type alone adds to the soil told; another kind replaces it whole."""
    if old is None or (new.kind and new.kind != old.kind):
        return new
    return Soil(kind=old.kind, state=new.state or old.state, type=new.type or old.type)


def _sized(state: State, event: Event, said: Said) -> State:
    """A new plan must be set anew, unless it asks for the very shores of a plan that is in force."""
    if event.stopped:
        return replace(state, refused=True)
    if event.plan is None:
        return state
    same = state.holds and state.plan is not None and _shores_of(state.plan) == _shores_of(event.plan)
    return replace(
        state,
        plan=event.plan,
        planned=event.sized_on,
        plan_said=said,
        refused=False,
        shores=state.shores if same else Shores.of(event.plan),
    )


def _shores_of(plan: Sized) -> tuple[object, ...]:
    return plan.levels, plan.strut.size, plan.strut.extensions_m, plan.boards


def _dug(state: State, reading: Reading, said: Said, tape: Metre) -> State:
    if reading.depth_m is None or reading.purpose == "size":
        return state
    if "backfill" in reading.done:
        return replace(state, filled_m=reading.depth_m)
    return replace(state, dug_m=reading.depth_m, said={**state.said, "dug": said})


def _done(state: State, reading: Reading, said: Said) -> State:
    """Take what is done; what is said to be undone counts last, since doubt never passes."""
    topics = dict(state.said)
    for done in reading.done:
        if done in _TOPICS:
            topics[_TOPICS[done]] = said
        if done == "ends battered" or done == "ends supported":
            ends: Literal["battered", "supported"] = "battered" if done == "ends battered" else "supported"
            state = replace(state, details=state.details.model_copy(update={"ends": ends}))
        if done == "spoil back" and reading.spoil_m is None:
            state = replace(state, spoil_m=None)
    for undone in reading.undone:
        if undone in _TOPICS:
            topics.pop(_TOPICS[undone], None)
    return replace(state, said=topics)


def _held_against_plan(state: State, tape: Metre) -> State:
    if state.plan is None or state.planned is None:
        return state
    return replace(state, changed=changes(state.plan, state.planned, state.whole, tape))


def _works_changed(before: State, state: State, at: datetime) -> State:
    """Whoever inspected before has not seen a changed plan, a deeper dig, or units set or taken since."""
    if state.plan is not before.plan and state.shores.layout is not before.shores.layout:
        return replace(state, shaken=Shaken("plan", at))
    if state.changed != before.changed or state.refused != before.refused:
        return replace(state, shaken=Shaken("plan", at))
    if state.dug_m != before.dug_m:
        return replace(state, shaken=Shaken("dig", at))
    if state.shores.standing != before.shores.standing:
        return replace(state, shaken=Shaken("units", at))
    return state


def _endangered(state: State, reading: Reading, said: Said, fell: bool, tables: Tables) -> State:
    """Open every hazard told, and the loss of pressure that a fallen gauge shows; worst first."""
    kinds: set[Hazard] = {*reading.hazards}
    if fell:
        kinds.add("pressure loss")
    if not kinds:
        return state
    known = {each.kind: each for each in state.hazards}
    opened = {kind: Open(kind, said) for kind in kinds}
    order = list(tables.hazards.hazard)
    every = sorted((opened | known).values(), key=lambda each: order.index(each.kind))
    worst = min(kinds, key=order.index)
    return replace(state, hazards=tuple(every), shaken=Shaken("hazard", said.at, worst))
