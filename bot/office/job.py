"""How a job stands as it moves, in rows for a page: place, people in, runs, units, who has it, notes."""

from datetime import datetime

from knowledge.record.in_ground import in_ground
from knowledge.record.runs import current
from knowledge.record.shift import Shift
from knowledge.record.state import DugRun, ToldBy, TrenchState
from knowledge.record.trench import Trench

Row = tuple[str, str]


def job_rows(trench: Trench, shift: Shift, now: datetime) -> list[Row]:
    """What was told of a trench beside its works, each with its name; nothing for what was not told."""
    state = trench.now

    def by(said: ToldBy) -> str:
        return f"{said.by}, {shift.clock(said.at, now)}"

    rows: list[Row] = [("Place", state.place)] if state.place else []
    if state.heads_said:
        rows.append(("People in", f"{state.heads} ({by(state.heads_said)})"))
    if state.runs:
        begun = state.runs[-1].begun
        rows.append(("Run", f"{open_run(state)}{f', {by(begun)}' if begun else ''}"))
        rows += [("Run before", f"{_run(run)}: {_left(run)}") for run in state.runs[:-1]]
    rows += _units(trench, shift, now)
    if state.parked:
        looked = by(state.parked.looked) if state.parked.looked else "not told"
        rows.append(("Left open", f"{by(state.parked.said)}; fence and lights {looked}"))
    if state.handed:
        taken = f"taken {by(state.handed.taken)}" if state.handed.taken else "not taken yet"
        rows.append(("Handed to", f"{state.handed.name} by {by(state.handed.said)}, {taken}"))
    if state.alarm_answered and state.hazards:
        rows.append(("Alarm answered", by(state.alarm_answered)))
    if state.strip:
        rows.append(("May be stripped", by(state.strip)))
    rows += [
        ("Note", f"{event.by}, {shift.clock(event.at, now)}: {event.words}")
        for event in trench.events
        if event.reading.purpose == "note"
    ]
    return rows


def _units(trench: Trench, shift: Shift, now: datetime) -> list[Row]:
    held = in_ground(trench)
    rows: list[Row] = []
    if held.units:
        since = shift.clock(held.since, now) if held.since else "not known"
        rows.append(("Units set", f"{held.units} since {since}"))
    if held.beside or held.left_behind:
        rows.append(("Units beside it", str(held.beside + held.left_behind)))
    if held.tagged:
        rows.append(("Units tagged out", str(held.tagged)))
    return rows


def open_run(state: TrenchState) -> str:
    """The run that is open, with where it lies; "" of a trench that never moved on."""
    return _run(current(state)) if state.runs else ""


def _run(run: DugRun) -> str:
    def at(metres: float | None) -> str:
        return "?" if metres is None else f"{metres:g}"

    return f"{run.number}, {at(run.start_m)} to {at(run.end_m)} m"


def _left(run: DugRun) -> str:
    filled = f"backfilled, says {run.filled.by}" if run.filled else "not told backfilled"
    return f"{run.units} units left, {filled}" if run.units else filled
