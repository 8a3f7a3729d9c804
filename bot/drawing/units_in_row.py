"""The units of a plan, from the front: rails, numbers, and gauges against the band."""

from itertools import pairwise

from markupsafe import Markup

from bot.drawing.section import INK, STEEL, Scale
from bot.drawing.svg import box, element, group, over, text
from knowledge.outcome import Sized
from knowledge.record.set_shores import UnitGauge
from knowledge.record.state import TrenchState
from knowledge.units import Metre

ROOM = 52.0  # between two units whose gauges stand beside them
BIGGEST, SMALLEST = 9.0, 6.0  # radius of a unit's mark; in a smaller one there is no room for its number


def units_in_row(plan: Sized, state: TrenchState, rail_m: Metre, scale: Scale) -> list[Markup]:
    """Each unit: its rail, the strut end-on, its number, its gauge."""
    parts, number, radius = [], 0, _radius(plan, scale)
    shores, full = state.shores, plan.stages_m[-1]
    for index, level in enumerate(plan.levels):
        for place, at in enumerate(level.positions_m or ()):
            number += 1
            ours = shores.layout == plan.levels
            gauge = shores.gauges.get(number) if ours else None
            standing = ours and (shores.level_set(index) or place < shores.counts[index] or gauge is not None)
            label = str(number) if radius >= SMALLEST or place == 0 or number % 5 == 0 else ""
            turned = at in level.turned_m
            ends = rail_m, full
            parts.append(_unit_at(scale, at, level.depth_m, ends, label, radius, standing, turned))
            if gauge:
                beside = radius if _roomy(plan, scale) and not turned else None
                below = level.depth_m if beside or turned else level.depth_m + rail_m / 2
                parts.append(_gauge(scale, at, below, gauge, plan, beside))
    return [*parts, *_props(plan, state, rail_m, scale)]


def _props(plan: Sized, state: TrenchState, rail_m: Metre, scale: Scale) -> list[Markup]:
    """The props of a surface that overhangs, their rails lying level at its edges."""
    if plan.props is None:
        return []
    ends, standing = (rail_m, plan.stages_m[-1]), "surface propped" in state.said
    places = plan.props.positions_m or ()
    return [_unit_at(scale, at, plan.props.depth_m, ends, "", SMALLEST, standing, True) for at in places]


def _roomy(plan: Sized, scale: Scale) -> bool:
    """Whether a gauge's figure can stand beside its unit and touches no neighbour."""
    gaps = [b - a for level in plan.levels for a, b in pairwise(level.positions_m or ())]
    return scale.along * min(gaps, default=1e9) >= ROOM


def _radius(plan: Sized, scale: Scale) -> float:
    """Small enough that the marks of neighbours do not touch."""
    gaps = [b - a for level in plan.levels for a, b in pairwise(level.positions_m or ())]
    return min(BIGGEST, 0.45 * scale.along * min(gaps, default=1e9))


def _unit_at(
    scale: Scale,
    at: Metre,
    depth: Metre,
    ends: tuple[Metre, Metre],
    label: str,
    radius: float,
    standing: bool,
    turned: bool,
) -> Markup:
    """One unit; of a turned one the rail lies along the trench."""
    rail, deep = ends
    x, y = scale.x(at), scale.y(depth)
    top, bottom = scale.y(max(0.0, depth - rail / 2)), scale.y(min(deep, depth + rail / 2))
    half = min(4.0, radius / 2)
    if turned:
        top, bottom, half = y - half, y + half, scale.along * rail / 2
    fill, dashes = (STEEL, None) if standing else ("#fff", "4 3")
    outline = {"fill": fill, "stroke": STEEL}
    inside = radius >= SMALLEST
    number = text(
        x,
        y + 4 if inside else y - radius - 4,
        label,
        text_anchor="middle",
        fill="#fff" if standing and inside else INK,
        font_size=11,
    )
    return group(
        [
            box(x - half, top, 2 * half, bottom - top, stroke_dasharray=dashes, **outline),
            element("circle", cx=x, cy=y, r=radius, stroke_width=1.5, **outline),
            *([number] if label else []),
        ]
    )


def _gauge(
    scale: Scale, at: Metre, below: Metre, gauge: UnitGauge, plan: Sized, beside: float | None
) -> Markup:
    """The reading under its unit or, where there is room, `beside` its mark. Outside the band a wedge points
    down or up, and the figure is bold."""
    low, high = plan.pressure_bar
    x, y = scale.x(at), scale.y(below) + (11 if beside is None else 4)
    figure = f"{scale.say.read(gauge.bar)}{'' if gauge.sure else ' ?'}"
    if beside is not None:
        x += beside + (11 if low <= gauge.bar <= high else 24)
    if low <= gauge.bar <= high:
        return over(x, y, figure, text_anchor="middle", font_size=11)
    down = gauge.bar < low
    wedge = f"M {x - 20:.1f} {y - 8 if down else y:.1f} h 8 l -4 {8 if down else -8} z"
    mark = element("path", d=wedge, fill=INK, class_="below" if down else "above")
    return group([mark, over(x + 3, y, figure, text_anchor="middle", font_size=11, font_weight=700)])
