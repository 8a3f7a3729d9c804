"""The sketch across the trench: faces, rails, boards, struts, and what stands beside the edge. To scale."""

from markupsafe import Markup

from bot.drawing.section import INK, PALE, SOIL, STEEL, TOP, Paper, Scale, dug_out, measure, pavement
from bot.drawing.svg import box, element, line, text
from bot.language.sender_units import SenderUnits
from knowledge.outcome import Sized
from knowledge.reading import Details
from knowledge.record.state import TrenchState
from knowledge.units import Metre

BOARD, RAIL = 5.0, 6.0  # thick, as drawn
BANK = 0.5  # metres of ground shown beside the trench, at least
HEAP = 0.5  # metres that the heap is wide, as drawn: how wide it is is not told
FURTHEST = 3.0  # metres: a heap further off stands at the margin, behind a break
LABEL = 56.0  # room for the words beside a level


def across_scale(
    paper: Paper, plan: Sized, details: Details, state: TrenchState, deep: Metre, say: SenderUnits
) -> Scale:
    """One scale both ways, so that the width, the depth and the distance of the spoil can be compared."""
    room = paper.breadth - LABEL
    one = min(paper.tall / deep, room / (2 * BANK + _right(state) + (details.width_m or plan.strut.needed_m)))
    return Scale(paper, one, one, say)


def _right(state: TrenchState) -> Metre:
    """How much more than a bank is shown on the side of the spoil."""
    return 0.0 if state.spoil_m is None else min(state.spoil_m, FURTHEST) + HEAP


def cross_section(
    plan: Sized, details: Details, state: TrenchState, rail_m: Metre, scale: Scale, deep: Metre
) -> list[Markup]:
    """As it is reported: solid where set, white where dug."""
    width = details.width_m or plan.strut.needed_m
    left = scale.paper.across + LABEL
    x0 = left + BANK * scale.down
    x1 = x0 + width * scale.down
    right = min(x1 + (BANK + _right(state)) * scale.down, scale.paper.wide - 2)
    y0, y1 = scale.y(0), scale.y(deep)
    parts = [
        text(scale.paper.across + 2, 16, "Cross-section, to scale", font_weight=600),
        box(left, y0, right - left, y1 - y0 + 18, fill=SOIL),
        *dug_out(scale, x0, x1, deep, state.dug_m),
        line(left, y0, right, y0, stroke_width=2),
        *pavement(details, scale, left, x0),
        *pavement(details, scale, x1, right),
        *_spoil(state, scale, x1, right),
        *_beside(details, scale, left, y0),
    ]
    for index, level in enumerate(plan.levels):
        parts += _shore(plan, state, index, rail_m, scale, (x0, x1), deep)
        parts.append(
            text(left - 4, scale.y(level.depth_m) + 4, _set_of(plan, state, index), text_anchor="end")
        )
    middle = (left + right) / 2
    return [
        *parts,
        text(middle, y1 + 34, f"{measure(details.width_m, scale.say)} wide", text_anchor="middle"),
        text(middle, y1 + 51, f"pump to {scale.say.band(*plan.pressure_bar)}", text_anchor="middle"),
    ]


def set_in_level(plan: Sized, state: TrenchState, index: int) -> int:
    """How many units of a level are reported set, by count or by a gauge that names them."""
    shores = state.shores
    if shores.layout != plan.levels:
        return 0
    own = shores.units_of(index)
    read = sum(1 for unit in shores.gauges if unit in own)
    whole = plan.levels[index].units if shores.level_set(index) else 0
    return max(whole or 0, shores.counts[index], read)


def _set_of(plan: Sized, state: TrenchState, index: int) -> str:
    level, shores = plan.levels[index], state.shores
    if shores.layout == plan.levels and shores.loose and not shores.complete:
        return f"? of {level.units or '?'}"  # so many are set, and nobody said in which level
    done = state.shores.layout == plan.levels and state.shores.level_set(index)
    if level.units is None:
        return "all set" if done else f"{set_in_level(plan, state, index)} of ?"
    return f"{set_in_level(plan, state, index)} of {level.units}"


def _shore(
    plan: Sized,
    state: TrenchState,
    index: int,
    rail_m: Metre,
    scale: Scale,
    faces: tuple[float, float],
    deep: Metre,
) -> list[Markup]:
    """A strut from rail to rail, and the boards behind the rails: solid where the whole level is set."""
    depth, boards = plan.levels[index].depth_m, plan.boards
    ours = state.shores.layout == plan.levels
    standing = ours and state.shores.level_set(index)
    some = standing or set_in_level(plan, state, index) > 0
    dashes = None if some else "4 3"
    fill = STEEL if standing else "#fff"
    top, y = scale.y(max(0.0, depth - rail_m / 2)), scale.y(depth)
    bottom = scale.y(min(deep, depth + rail_m / 2))
    behind = BOARD if boards else 0.0
    inner0, inner1 = faces[0] + behind + RAIL, faces[1] - behind - RAIL
    outline = {"fill": fill, "stroke": STEEL, "stroke_dasharray": dashes}
    return [
        *(
            box(x, top, BOARD, bottom - top, fill=PALE if standing else "#fff", stroke=PALE)
            for x in (faces[0], faces[1] - BOARD)
            if boards
        ),
        *(box(x, top, RAIL, bottom - top, **outline) for x in (inner0 - RAIL, inner1)),
        box(inner0, y - 4, inner1 - inner0, 8, stroke_width=1.5, **outline),
    ]


def _spoil(state: TrenchState, scale: Scale, x: float, right: float) -> list[Markup]:
    """The heap, at its distance from the edge; one that is far off stands behind a break."""
    y = scale.y(0)
    if state.spoil_m is None:
        told = "spoil back, distance not reported" if "spoil" in state.said else ""
        return [text(right, y - 26, told, text_anchor="end", font_size=11)] if told else []
    far = state.spoil_m > FURTHEST
    start = x + min(state.spoil_m, FURTHEST) * scale.down
    wide = min(HEAP * scale.down, right - start)
    heap = f"M {start:.1f} {y:.1f} l {wide / 2:.1f} -20 l {wide / 2:.1f} 20 z"
    broken = f"M {start - 14:.1f} {y + 6:.1f} l 5 -12 m 3 12 l 5 -12"
    told = f"spoil {scale.say.told(state.spoil_m)} off" + (", not to scale" if far else "")
    return [
        element("path", d=heap, fill=SOIL, stroke=INK, class_="spoil"),
        *([element("path", d=broken, stroke=INK, stroke_width=1.5)] if far else []),
        text(right, y - 26, told, text_anchor="end", font_size=11),
    ]


def _beside(details: Details, scale: Scale, x: float, y: float) -> list[Markup]:
    told = []
    if details.traffic:
        told.append("traffic beside")
    if details.plant_m is not None:
        told.append(f"machine {scale.say.told(details.plant_m)} off")
    return [text(x, y - 8 - 14 * n, each, font_size=11) for n, each in enumerate(told)]


def below_top(scale: Scale, deep: Metre) -> float:
    """How far down the drawing the bottom of the trench is."""
    return TOP + deep * scale.down
