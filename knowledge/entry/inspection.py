"""What an inspection report holds: the particulars of CDM 2015 reg 24(1)(b).

They serve the `us` rulebook too: 29 CFR 1926.651(k) asks for the inspection and names no form.
"""

from datetime import datetime

from knowledge.entry.missing import judged
from knowledge.outcome import Missing
from knowledge.reading import Details, Done, Frozen, Gauge, Hazard, details_of
from knowledge.record.in_doubt import inspects
from knowledge.record.shift import Shift
from knowledge.record.state import Event, TrenchState
from knowledge.record.trench import Trench
from knowledge.sourced import Rulebook
from knowledge.tables.entry_rules import Role
from knowledge.tables.load import Tables


class Risk(Frozen):
    """A matter that could give rise to a risk: a hazard reported, and since when."""

    hazard: Hazard
    since: datetime
    reported_by: str


class ActionTaken(Frozen):
    """What was told done about it before the inspection."""

    at: datetime
    by: str
    done: tuple[Done, ...] = ()
    undone: tuple[Done, ...] = ()
    gauges: tuple[Gauge, ...] = ()
    details: Details = Details()


class InspectionReport(Frozen):
    """One inspection by the competent person. The roman numbers are those of reg 24(1)(b)."""

    made_for: str  # (i)
    made_for_address: str  # (i)
    site: str  # (ii)
    site_address: str  # (ii)
    trench: str  # (ii)
    rulebook: Rulebook
    details: Details  # (iii) the place inspected
    kit: str  # (iii) its equipment: strut levels, units told set of those planned, gauges as last read
    levels_m: tuple[float, ...]
    units_set: int
    units_planned: int | None
    gauges: tuple[Gauge, ...]
    ladder: bool
    at: datetime  # (iv)
    risks: tuple[Risk, ...]  # (v)
    actions: tuple[ActionTaken, ...]  # (vi)
    further: tuple[Missing, ...]  # (vii) what still stands in the way of entry
    by: str  # (viii)
    position: Role  # (viii)
    satisfied: bool
    tell_by: datetime  # (1)(a): the end of the shift
    hand_over_by: datetime  # (1)(c)
    keep_months: float  # (3)(a): after the work is complete


def inspections(trench: Trench, tables: Tables) -> tuple[Event, ...]:
    """The inspections by a role that may inspect, in sent order, whatever they found.

    Only one that found the trench safe, and said nothing against it, counts for entry (`in_doubt.inspects`).
    """
    return tuple(
        event
        for event in trench.events
        if ("inspection" in event.reading.done or event.reading.verdict is not None)
        and event.reading.whole
        and tables.entry.may(event.role, "inspect")
    )


def inspection_report(
    trench: Trench,
    event: Event,
    tables: Tables,
    shift: Shift,
    made_for: tuple[str, str] = ("", ""),
    site_address: str = "",
) -> InspectionReport:
    """The report on one of `inspections(trench)`. Raises ValueError for any other event.

    `made_for` is the name and the address of the person on whose behalf it was made, "" where not told.
    """
    if event not in inspections(trench, tables):
        raise ValueError(f"{event.id} is no inspection by the competent person")
    place = trench.events.index(event)
    state = trench.states[place]
    before = trench.states[place - 1] if place else TrenchState()
    further, _ = judged(state, trench.rulebook, event.at, tables, shift)
    risks = tuple(
        Risk(hazard=each.kind, since=each.said.at, reported_by=each.said.by)
        for each in dict.fromkeys((*before.hazards, *state.hazards))
    )
    figure = tables.entry.figure
    return InspectionReport(
        made_for=made_for[0],
        made_for_address=made_for[1],
        site=trench.site,
        site_address=site_address,
        trench=trench.ref,
        rulebook=trench.rulebook,
        details=state.whole,
        kit=trench.kit,
        levels_m=tuple(level.depth_m for level in state.shores.layout),
        units_set=state.shores.standing,
        units_planned=state.shores.planned,
        gauges=tuple(
            Gauge(unit=unit or None, bar=each.bar) for unit, each in sorted(state.shores.gauges.items())
        ),
        ladder="ladder" in state.said,
        at=event.at,
        risks=risks,
        actions=_actions(trench, place, risks),
        further=further,
        by=event.by,
        position=event.role,
        satisfied=inspects(event, tables.entry) and not state.hazards and not further,
        tell_by=shift.close(event.at),
        hand_over_by=event.at + tables.entry.figure.report_within.span,
        keep_months=figure.keep_report.value,
    )


def _actions(trench: Trench, place: int, risks: tuple[Risk, ...]) -> tuple[ActionTaken, ...]:
    """What was told between the first hazard and the inspection; what raises an alarm is no action."""
    if not risks:
        return ()
    since = min(risk.since for risk in risks)
    return tuple(
        action
        for each in trench.events[:place]
        if each.at >= since
        and not each.reading.hazards
        and (action := _action(each)) != ActionTaken(at=each.at, by=each.by)
    )


def _action(event: Event) -> ActionTaken:
    told = event.reading
    if not told.whole:  # nothing of it was taken for done
        return ActionTaken(at=event.at, by=event.by)
    return ActionTaken(
        at=event.at,
        by=event.by,
        done=told.done,
        undone=told.undone,
        gauges=told.gauges,
        details=details_of(told),
    )
