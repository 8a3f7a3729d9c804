"""The sketch across the trench: faces, rails, boards, struts, and what stands beside the edge."""

from markupsafe import Markup

from bot.drawing.section import INK, PALE, SOIL, STEEL, Scale, measure, pavement
from bot.drawing.svg import box, element, line, text
from knowledge.outcome import Sized
from knowledge.reading import Details
from knowledge.record.state import TrenchState
from knowledge.units import Metre

BOARD, RAIL = 5.0, 6.0  # thick, as drawn


def cross_section(
    plan: Sized, details: Details, state: TrenchState, rail_m: Metre, scale: Scale
) -> list[Markup]:
    """One scale both ways."""
    depth, width = plan.stages_m[-1], details.width_m or plan.strut.needed_m
    middle, half = scale.paper.across, width * scale.down / 2
    x0, x1, y0, y1 = middle - half, middle + half, scale.y(0), scale.y(depth)
    title = 8 if scale.paper.stacked else x0 - 50
    parts = [
        text(title, 16, "Cross-section", font_weight=600),
        box(x0 - 50, y0, x1 - x0 + 100, y1 - y0 + 18, fill=SOIL),
        box(x0, y0, x1 - x0, y1 - y0, fill="#fff", stroke=INK, stroke_width=1.5),
        line(x0 - 50, y0, x1 + 50, y0, stroke_width=2),
        *pavement(details, scale, x0 - 50, x0),
        *pavement(details, scale, x1, x1 + 50),
    ]
    for level in plan.levels:
        parts += _shore(level.depth_m, rail_m, plan.boards, scale, x0, x1)
    return [
        *parts,
        text(middle, y1 + 34, f"{measure(details.width_m, scale.say)} wide", text_anchor="middle"),
        text(middle, y1 + 51, f"pump to {scale.say.band(*plan.pressure_bar)}", text_anchor="middle"),
        *_spoil(state, scale, x1, y0),
        *_beside(details, scale, x0, y0),
    ]


def _shore(depth: Metre, rail_m: Metre, boards: bool, scale: Scale, x0: float, x1: float) -> list[Markup]:
    """A strut from rail to rail, and the boards behind the rails."""
    top, y, bottom = scale.y(max(0.0, depth - rail_m / 2)), scale.y(depth), scale.y(depth + rail_m / 2)
    behind = BOARD if boards else 0.0
    inner0, inner1 = x0 + behind + RAIL, x1 - behind - RAIL
    return [
        *(box(x, top - 4, BOARD, bottom - top + 8, fill=PALE) for x in (x0, x1 - BOARD) if boards),
        *(box(x, top, RAIL, bottom - top, fill=STEEL) for x in (inner0 - RAIL, inner1)),
        box(inner0, y - 4, inner1 - inner0, 8, fill="#fff", stroke=STEEL, stroke_width=1.5),
    ]


def _spoil(state: TrenchState, scale: Scale, x: float, y: float) -> list[Markup]:
    """The heap, at its distance; further than the drawing is wide, it stands at the margin."""
    if state.spoil_m is None:
        return []
    right = scale.paper.wide
    start = min(x + state.spoil_m * scale.down, right - 62)
    heap = f"M {start:.0f} {y:.0f} l 24 -20 l 26 20 z"
    told = f"spoil {scale.say.told(state.spoil_m)} off"
    return [
        element("path", d=heap, fill=SOIL, stroke=INK),
        text(right - 4, y - 26, told, text_anchor="end", font_size=11),
    ]


def _beside(details: Details, scale: Scale, x: float, y: float) -> list[Markup]:
    told = []
    if details.traffic:
        told.append("traffic beside")
    if details.plant_m is not None:
        told.append(f"machine {scale.say.told(details.plant_m)} off")
    left = min(x - 50, scale.paper.across - 120)
    return [text(left, y - 8 - 14 * n, each, font_size=11) for n, each in enumerate(told)]
