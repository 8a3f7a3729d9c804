"""Which units stand in a trench, since when, and which lie beside it."""

from dataclasses import dataclass
from datetime import datetime

from knowledge.record.trench import Trench


@dataclass(frozen=True, slots=True)
class InGround:
    """`units` stand set in the open run, the first of them since `since`; `left_behind` in runs that the dig
    moved on from; `beside` have arrived and are not set; `tagged` are out of use."""

    units: int
    since: datetime | None
    left_behind: int
    beside: int
    tagged: int


def in_ground(trench: Trench) -> InGround:
    """What of the kit is at a trench, as told."""
    now = trench.now
    since = None
    for event, state in zip(trench.events, trench.states, strict=True):
        if not state.shores.standing:
            since = None
        elif since is None:
            since = event.at
    behind = sum(run.units for run in now.runs[:-1])
    tagged = sum(each.n for each in now.tagged)
    return InGround(now.shores.standing, since, behind, max(0, now.arrived - behind), tagged)
