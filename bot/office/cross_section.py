"""The sketch across the trench: faces, rails, boards, struts, and what stands beside the edge."""

from markupsafe import Markup

from bot.office.section import INK, PALE, SOIL, STEEL, WIDE, Scale, measure, pavement
from bot.office.svg import box, element, line, text
from knowledge.facts import State
from knowledge.outcome import Sized
from knowledge.reading import Details
from knowledge.units import Metre, printed

CROSS = 835.0  # where its middle is


def cross_section(plan: Sized, details: Details, state: State, rail_m: Metre, scale: Scale) -> list[Markup]:
    """One scale both ways."""
    depth, width = plan.stages_m[-1], details.width_m or plan.strut.needed_m
    half = width * scale.down / 2
    x0, x1, y0, y1 = CROSS - half, CROSS + half, scale.y(0), scale.y(depth)
    parts = [
        text(x0 - 50, 16, "Cross-section", font_weight=600),
        box(x0 - 50, y0, x1 - x0 + 100, y1 - y0 + 18, fill=SOIL),
        box(x0, y0, x1 - x0, y1 - y0, fill="#fff", stroke=INK, stroke_width=1.5),
        line(x0 - 50, y0, x1 + 50, y0, stroke_width=2),
        *pavement(details, scale, x0 - 50, x0),
        *pavement(details, scale, x1, x1 + 50),
    ]
    for level in plan.levels:
        top, bottom = scale.y(max(0.0, level.depth_m - rail_m / 2)), scale.y(level.depth_m + rail_m / 2)
        y = scale.y(level.depth_m)
        if plan.boards:
            parts += [
                box(x0, top - 4, 5, bottom - top + 8, fill=PALE),
                box(x1 - 5, top - 4, 5, bottom - top + 8, fill=PALE),
            ]
        inset = 5.0 if plan.boards else 0.0
        parts += [
            box(x0 + inset, top, 6, bottom - top, fill=STEEL),
            box(x1 - inset - 6, top, 6, bottom - top, fill=STEEL),
            box(
                x0 + inset + 6,
                y - 4,
                x1 - x0 - 2 * inset - 12,
                8,
                fill="#fff",
                stroke=STEEL,
                stroke_width=1.5,
            ),
        ]
    low, high = plan.pressure_bar
    middle = (x0 + x1) / 2
    parts += [
        text(middle, y1 + 34, f"{measure(details.width_m)} wide", text_anchor="middle"),
        text(middle, y1 + 51, f"pump to {printed(low)} to {printed(high)} bar", text_anchor="middle"),
        *_spoil(state, scale, x1, y0),
    ]
    parts += _beside(details, x0, y0)
    return parts


def _spoil(state: State, scale: Scale, x: float, y: float) -> list[Markup]:
    """The heap, at its distance; further than the drawing is wide, it stands at the margin."""
    if state.spoil_m is None:
        return []
    start = min(x + state.spoil_m * scale.down, WIDE - 62)
    heap = f"M {start:.0f} {y:.0f} l 24 -20 l 26 20 z"
    return [
        element("path", d=heap, fill=SOIL, stroke=INK),
        text(WIDE - 4, y - 26, f"spoil {printed(state.spoil_m)} m off", text_anchor="end", font_size=11),
    ]


def _beside(details: Details, x: float, y: float) -> list[Markup]:
    told = []
    if details.traffic:
        told.append("traffic beside")
    if details.plant_m is not None:
        told.append(f"machine {printed(details.plant_m)} m off")
    return [text(x - 50, y - 8 - 14 * n, each, font_size=11) for n, each in enumerate(told)]
