"""A trench that advances: one reference, one plan, dug and filled run by run.

Figures are carried from run to run. Facts never are: what was set, dug, tested and inspected in one run says
nothing of the next.
"""

from dataclasses import dataclass, replace

from knowledge.reading import Details
from knowledge.record.set_shores import SetShores
from knowledge.record.state import DugRun, InspectionCause, ToldBy, TrenchState
from knowledge.units import Metre


@dataclass(frozen=True, slots=True)
class NextRun:
    """The run that would come next: its number, where it begins and ends along the street (None: unknown)."""

    number: int
    start_m: Metre | None
    end_m: Metre | None


def coming(state: TrenchState, run_m: Metre | None) -> NextRun:
    """The run after the one that is open. Without `run_m` it is as long as the one before.

    Of a run whose length nobody told, the distance moved is taken to be its length.
    """
    before = current(state)
    length = run_m or _length(before) or state.details.length_m
    start = before.end_m
    if start is None and before.number == 1 and run_m is not None:
        start = run_m
    end = None if start is None or length is None else start + length
    return NextRun(before.number + 1, start, end)


def current(state: TrenchState) -> DugRun:
    """The run that is open; a trench that never moved is all one run."""
    return state.runs[-1] if state.runs else DugRun(1, 0.0, state.details.length_m)


def _length(run: DugRun) -> Metre | None:
    return None if run.start_m is None or run.end_m is None else run.end_m - run.start_m


def details_of_next(state: TrenchState, run_m: Metre | None) -> Details:
    """What the next run is sized from: depth as planned, width, soil and what stands beside; its own length.

    Services lie where they lie: those of the run before are not in this one, and those of this one are not
    known yet.
    """
    run = coming(state, run_m)
    length = None if run.start_m is None or run.end_m is None else run.end_m - run.start_m
    return state.details.model_copy(update={"length_m": length, "services": ()})


def moved_on(state: TrenchState, run_m: Metre | None, said: ToldBy) -> TrenchState:
    """The record once the dig has moved on: a new run of which no fact is known.

    What stands against entry goes with it. Units that stood in the run before lie beside this one at best.
    """
    following = coming(state, run_m)
    before = current(state)
    standing = state.shores.standing
    left = replace(
        before,
        end_m=following.start_m,
        units=standing,
        filled=state.said.get("backfill") if not standing else None,
    )
    return replace(
        state,
        runs=(
            *state.runs[:-1],
            left,
            DugRun(following.number, following.start_m, following.end_m, begun=said),
        ),
        details=details_of_next(state, run_m),
        shores=SetShores.of(state.plan) if state.plan else SetShores(),
        dug_m=None,
        dug_told_m=None,
        filled_m=None,
        spoil_m=None,
        said={},
        arrived=state.arrived + standing,
        inspection_cause=_cause(state, said),
    )


def _cause(state: TrenchState, said: ToldBy) -> InspectionCause:
    cause = state.inspection_cause
    return cause if cause and cause.why == "hazard" else InspectionCause("run", said.at)


def filled(state: TrenchState, number: int, said: ToldBy) -> TrenchState:
    """A run left behind is told backfilled: its units are out of it."""
    runs = tuple(
        replace(run, filled=said, units=0) if run.number == number and run is not state.runs[-1] else run
        for run in state.runs
    )
    return replace(state, runs=runs)


def not_filled(state: TrenchState) -> tuple[DugRun, ...]:
    """The runs left behind that nobody told backfilled."""
    return tuple(run for run in state.runs[:-1] if run.filled is None)
