"""The record of a trench: the fold of what was told about it, in the order in which it was sent.

The events are the log; the states are derived and can always be worked again from them.
"""

import itertools
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, replace

from knowledge.outcome import Sized
from knowledge.reading import TAKING, Details, Reading
from knowledge.record.fold import after
from knowledge.record.joining import told_again
from knowledge.record.state import Event, TrenchState
from knowledge.sheet import Sheet
from knowledge.sourced import Rulebook
from knowledge.tables.entry_rules import Role
from knowledge.tables.load import Tables

__all__ = ["Event", "Role", "Trench", "details", "merged", "rebuild", "told"]


@dataclass(frozen=True)
class Trench:
    """One trench of one site. `events` are in sent order; `states[i]` is the record after `events[i]`."""

    ref: str
    site: str
    rulebook: Rulebook
    kit: str
    events: tuple[Event, ...] = ()
    states: tuple[TrenchState, ...] = ()

    @property
    def now(self) -> TrenchState:
        """The record as it stands."""
        return self.states[-1] if self.states else TrenchState()

    @property
    def plan(self) -> Sized | None:
        """The last plan given, whether or not it still holds (`now.holds`)."""
        return self.now.plan

    @property
    def closed(self) -> bool:
        """Whether it was closed and nothing was told of it since."""
        return self.now.closed is not None


def told(trench: Trench, event: Event, tables: Tables) -> Trench:
    """The record with one more event, at its place by sent time; of two sent together the first to come stays
    first.

    Danger has its place by when it came in: what was looked at or measured before it was told of did not see
    it, whatever its sender's clock says. So has a plan: what was set before it was given was not set by it.
    An event that is already there, by its id, changes nothing. The order of coming in is kept beside, since
    nobody can have inspected for a hazard that no text had told yet.
    """
    if any(event.id == known.id for known in trench.events):
        return trench
    if event.plan is not None:
        sent = event.at if event.heard > event.at else event.sent
        event = replace(event, plan=_light(event.plan), at=event.heard, sent=sent)
    if event.reading.hazards or event.reading.possible_hazard:
        event = replace(event, at=event.heard)
    if event.came is None:
        event = replace(event, came=1 + max((known.came or 0 for known in trench.events), default=0))
    place = bisect_right(trench.events, event.at, key=lambda known: known.at)
    events = (*trench.events[:place], event, *trench.events[place:])
    states = list(trench.states[:place])
    for at, each in enumerate(events[place:], start=place):
        before = states[-1] if states else TrenchState()
        if each.withdraws:
            before = _without(events[:at], each, tables, trench.rulebook)
        states.append(after(before, each, tables, trench.rulebook))
    return replace(trench, events=events, states=tuple(states))


def _without(
    events: tuple[Event, ...], withdrawing: Event, tables: Tables, rulebook: Rulebook
) -> TrenchState:
    """The record as if what was told of the wrong trench had not been: but danger, stops and what was said to
    be undone or out stay, since somebody may be right about this trench too."""
    gone = {name for each in (*events, withdrawing) for name in each.withdraws}
    state = TrenchState()
    for each in events:
        state = after(state, _against(each) if each.id in gone else each, tables, rulebook)
    return state


def _against(event: Event) -> Event:
    """What it said that may be so of this trench too: as with any text that has words left over, a gauge
    counts where it is a sign of danger, and units where they are out."""
    told = event.reading
    stops = told.purpose == "stop" or told.verdict == "not safe"
    out = "units out" in told.done
    fewer = told.moved is not None and told.moved.how in TAKING
    read = told.hazards or told.gauges or told.air or out
    kept = Reading(
        purpose="stop" if stops else "report" if read else "unclear",
        hazards=told.hazards,
        possible_hazard=told.possible_hazard,
        danger=told.danger,
        undone=tuple(dict.fromkeys((*told.undone, "units set"))) if fewer else told.undone,
        done=("units out",) if out else (),
        units_set=told.units_set if out or "units set" in told.undone else None,
        gauges=told.gauges,
        air=told.air,
        left_over=("told of another trench",),
    )
    return replace(
        event, reading=kept, plan=None, sized_on=None, stopped=False, open_text=False, offered=None, seen=()
    )


def _light(plan: Sized) -> Sized:
    """What setting and entry need of a plan; its words and its sheet are on the log."""
    return plan.model_copy(update={"sheet": Sheet(), "cautions": ()})


def late(trench: Trench, event: Event) -> bool:
    """Whether something sent after this event is already on record."""
    return bool(trench.events) and event.at < trench.events[-1].at


def rebuild(
    ref: str, site: str, rulebook: Rulebook, kit: str, events: Iterable[Event], tables: Tables
) -> Trench:
    """The record worked again from its events, given in the order in which they came in."""
    trench = Trench(ref, site, rulebook, kit)
    for event in events:
        trench = told(trench, event, tables)
    return trench


def merged(into: Trench, other: Trench, tables: Tables) -> Trench:
    """Two references that turned out to be one trench, under the reference of the first (see `joining`).

    Raises ValueError where the two have not the same site, rulebook and kit: one trench never mixes two.
    """
    if (into.site, into.rulebook, into.kit) != (other.site, other.rulebook, other.kit):
        raise ValueError(f"{into.ref} and {other.ref} are not on the same terms")
    joined = rebuild(into.ref, into.site, into.rulebook, into.kit, (*into.events, *other.events), tables)
    both = [told_again(each.events, each.now, joined.now, tables.entry) for each in (into, other)]
    for event in itertools.chain(*both):
        last = joined.events[-1]
        again = replace(event, id=f"{event.id}/joined-{len(joined.events)}", at=last.at)
        joined = told(joined, again, tables)
    return joined


def renamed(trench: Trench, ref: str) -> Trench:
    """The same record under another reference."""
    return replace(trench, ref=ref)


def details(trench: Trench) -> Details:
    """The trench as told so far: what sizing works from."""
    return trench.now.whole
