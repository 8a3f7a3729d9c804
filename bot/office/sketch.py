"""The trench drawn: long section and cross-section, from the plan and from what is told. Pure.

Every fact has a shape or a word of its own, so that the sketch is read as well in grey as in colour. What is
not told is not drawn: a unit is solid where it is told set, outlined where it is only planned.
"""

from markupsafe import Markup

from bot.office.cross_section import cross_section
from bot.office.long_section import long_section
from bot.office.section import LONG, TALL, TOP, WIDE, Scale, measure
from bot.office.svg import drawing
from knowledge.facts import State
from knowledge.outcome import Sized
from knowledge.reading import Details, Service
from knowledge.units import Amount, Metre, printed, show


def sketch(plan: Sized, details: Details, state: State, rail_m: Metre, name: str = "sketch") -> Markup:
    """The sketch as an SVG element. `rail_m` is the length of the kit's rails."""
    depth = plan.stages_m[-1]
    length = details.length_m or plan.run_m or plan.spacing_m * 3
    across = TALL / max(depth, (details.width_m or 1.0) * 1.2)
    scale = Scale(along=LONG / length, down=across)
    height = TOP + depth * across + 74
    parts = [
        *long_section(plan, details, state, rail_m, scale, length),
        *cross_section(plan, details, state, rail_m, scale),
    ]
    return drawing(WIDE, height, _title(plan, details), described(plan, details, state), name, parts)


def described(plan: Sized, details: Details, state: State) -> str:
    """The sketch in words."""
    told = [
        f"{printed(plan.stages_m[-1])} m deep, {measure(details.width_m)} wide, "
        f"{measure(details.length_m)} long."
    ]
    for n, level in enumerate(plan.levels, start=1):
        units = "units not counted" if level.units is None else f"{level.units} units"
        at = f" at {', '.join(map(printed, level.positions_m))} m" if level.positions_m else ""
        told.append(f"Level {n}: struts {printed(level.depth_m)} m down, {units}{at}.")
    told.append(f"Dig in stages to {', '.join(map(_stage, plan.stages_m))}.")
    if state.dug_m is not None:
        told.append(f"Told dug to {printed(state.dug_m)} m.")
    told += [f"{_service(each)}." for each in details.services]
    if details.water:
        told.append(f"Water: {details.water}.")
    if state.spoil_m is not None:
        told.append(f"Spoil {printed(state.spoil_m)} m from the edge.")
    low, high = plan.pressure_bar
    told.append(f"Pump to {printed(low)} to {printed(high)} bar.")
    for unit, gauge in sorted(state.shores.gauges.items()):
        doubt = "" if gauge.sure else ", in doubt since"
        told.append(f"{_unit(unit)} read {printed(gauge.bar)} bar, {_against(gauge.bar, plan)}{doubt}.")
    return " ".join(told)


def _title(plan: Sized, details: Details) -> str:
    return f"Trench {printed(plan.stages_m[-1])} m deep with {len(plan.levels)} levels of units"


def _stage(depth: Metre) -> str:
    return show(Amount(depth, "m", "upper"))


def _unit(unit: int) -> str:
    return f"Unit {unit}" if unit else "A unit not named"


def _against(bar: float, plan: Sized) -> str:
    low, high = plan.pressure_bar
    return "below the band" if bar < low else "above the band" if bar > high else "in the band"


def _service(service: Service) -> str:
    at = f" at {printed(service.at_m)} m" if service.at_m is not None else " along a face"
    depth = f", {printed(service.depth_m)} m down" if service.depth_m is not None else ", depth not told"
    return f"Service: {service.what}{at}{depth}"
