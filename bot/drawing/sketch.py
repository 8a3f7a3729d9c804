"""The trench drawn: long section and cross-section, from the plan and from what is told. Pure.

Every fact has a shape or a word of its own, so that the sketch is read as well in grey as in colour. What is
not told is not drawn: a unit is solid where it is told set, outlined where it is only planned; white is
what is told dug. Where lengths and heights have not one scale the drawing says so.
"""

from datetime import datetime, tzinfo

from markupsafe import Markup

from bot.drawing.cross_section import across_scale, below_top, cross_section, set_in_level
from bot.drawing.long_section import long_section, not_placed
from bot.drawing.section import BELOW, OFFICE, PHONE, Paper, measure, scale_of
from bot.drawing.svg import drawing, group, text
from bot.language.sender_units import SenderUnits
from bot.message import Manner
from knowledge.outcome import Sized
from knowledge.reading import BuriedService, Details
from knowledge.record.runs import current
from knowledge.record.state import TrenchState
from knowledge.record.trench import Trench
from knowledge.units import Metre

HEAD = 44.0  # of a sketch for a phone: what it shows, and as of when


def sketch(
    plan: Sized,
    details: Details,
    state: TrenchState,
    rail_m: Metre,
    name: str = "sketch",
    manner: Manner | None = None,
    paper: Paper = OFFICE,
    head: tuple[str, ...] = (),
) -> Markup:
    """The sketch as an SVG element. `rail_m` is the length of the kit's rails, `head` its lines on top."""
    say = SenderUnits(manner or Manner())
    deep = max(plan.stages_m[-1], state.dug_m or 0.0)
    length = details.length_m or plan.run_m or plan.spacing_m * 3
    scale = scale_of(paper, length, deep, say)
    beside = across_scale(paper, plan, details, state, deep, say)
    tall, broad = (below_top(each, deep) + BELOW for each in (scale, beside))
    top = HEAD if head else 0.0
    across = cross_section(plan, details, state, rail_m, beside, deep)
    parts = [
        *(text(8, 17 + 18 * n, each, font_weight=None if n else 700) for n, each in enumerate(head)),
        group(long_section(plan, details, state, rail_m, scale, (length, deep)), transform=_down(top)),
        group(across, transform=_down(top + tall if paper.stacked else top)),
    ]
    height = top + (tall + broad if paper.stacked else max(tall, broad))
    told = described(plan, details, state, say)
    return drawing(paper.wide, height, _title(plan, say), told, name, parts, paper.font)


def for_phone(trench: Trench, rail_m: Metre, manner: Manner, at: datetime, zone: tzinfo) -> Markup:
    """The sketch of the plan in force, as it was told by then. Nobody's name is on it.

    Raises ValueError where there is no plan.
    """
    if trench.plan is None:
        raise ValueError(f"{trench.ref} is not sized")
    run = run_drawn(trench.now, SenderUnits(manner))
    head = (
        f"{trench.ref}{f', {run}' if run else ''}, as reported by {at.astimezone(zone):%a %d %b %Y, %H:%M}",
        "Solid: reported set. Outlined: planned. Not a permit to enter.",
    )
    return sketch(trench.plan, trench.now.whole, trench.now, rail_m, "sketch", manner, PHONE, head)


def run_drawn(state: TrenchState, say: SenderUnits) -> str:
    """Which run of a trench that advances it shows, and where that lies; "" for one that never moved on."""
    if not state.runs:
        return ""
    run = current(state)
    start, end = ("?" if at is None else say.told(at) for at in (run.start_m, run.end_m))
    return f"run {run.number}, {start} to {end}"


def described(plan: Sized, details: Details, state: TrenchState, say: SenderUnits) -> str:
    """The sketch in words."""
    told = [
        f"{say.told(plan.stages_m[-1])} deep, {measure(details.width_m, say)} wide, "
        f"{measure(details.length_m, say)} long."
    ]
    if run := run_drawn(state, say):
        told.append(f"This is {run} along the street.")
    for n, level in enumerate(plan.levels, start=1):
        units = "units not counted" if level.units is None else f"{level.units} units"
        at = f" at {', '.join(map(say.told, level.positions_m))}" if level.positions_m else ""
        done = f"; {set_in_level(plan, state, n - 1)} reported set"
        told.append(f"Level {n}: struts {say.length(level.depth_m)} down, {units}{at}{done}.")
        if level.turned_m:
            told.append(f"Rails level at {', '.join(map(say.told, level.turned_m))}.")
    if plan.props:
        at = f" at {', '.join(map(say.told, plan.props.positions_m))}" if plan.props.positions_m else ""
        told.append(
            f"The surface overhangs: {plan.props.count} props, {say.length(plan.props.depth_m)} down{at}."
        )
    told += [f"{each}." for each in not_placed(plan, state)]
    told.append(f"Dig in stages to {', '.join(say.length(each, 'upper') for each in plan.stages_m)}.")
    if state.dug_m is not None:
        deeper = ", deeper than the plan" if state.dug_m > plan.stages_m[-1] else ""
        told.append(f"Reported dug to {say.told(state.dug_m)}{deeper}.")
    else:
        told.append("How deep it is dug is not reported.")
    if details.ends:
        told.append(f"Ends {details.ends}.")
    told += [f"{_service(each, say)}." for each in details.services]
    if details.water:
        told.append(f"Water: {details.water}.")
    if state.spoil_m is not None:
        told.append(f"Spoil {say.told(state.spoil_m)} from the edge.")
    told.append(f"Pump to {say.band(*plan.pressure_bar)}.")
    for unit, gauge in sorted(state.shores.gauges.items()):
        doubt = "" if gauge.sure else ", in doubt since"
        read = f"{say.read(gauge.bar)} {say.pressure or 'bar'}"
        told.append(f"{_unit(unit)} read {read}, {_against(gauge.bar, plan)}{doubt}.")
    return " ".join(told)


def _down(y: float) -> str | None:
    return f"translate(0 {y:.1f})" if y else None


def _title(plan: Sized, say: SenderUnits) -> str:
    return f"Trench {say.told(plan.stages_m[-1])} deep with {len(plan.levels)} levels of units"


def _unit(unit: int) -> str:
    return f"Unit {unit}" if unit else "A unit not named"


def _against(bar: float, plan: Sized) -> str:
    low, high = plan.pressure_bar
    return "below the band" if bar < low else "above the band" if bar > high else "in the band"


def _service(service: BuriedService, say: SenderUnits) -> str:
    at = f" at {say.told(service.at_m)}" if service.at_m is not None else " along a face"
    depth = f", {say.told(service.depth_m)} down" if service.depth_m is not None else ", depth not told"
    return f"Service: {service.what}{at}{depth}"
