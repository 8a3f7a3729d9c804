"""The sketch along the trench: units from the front, stages, services, water, what is dug."""

from markupsafe import Markup

from bot.drawing.cross_section import set_in_level
from bot.drawing.section import INK, PALE, SOIL, TOP, Scale, dug_out, pavement
from bot.drawing.svg import box, element, group, line, over, text
from bot.drawing.units_in_row import units_in_row
from knowledge.outcome import Sized
from knowledge.reading import BuriedService, Details
from knowledge.record.state import TrenchState
from knowledge.units import M_PER_FT, Metre, printed


def long_section(
    plan: Sized,
    details: Details,
    state: TrenchState,
    rail_m: Metre,
    scale: Scale,
    extent: tuple[Metre, Metre],
) -> list[Markup]:
    """`extent` is the length and the depth that are drawn."""
    length, depth = extent
    x0, x1, y0, y1 = scale.x(0), scale.x(length), scale.y(0), scale.y(depth)
    stretch = scale.down / scale.along
    how = f"heights drawn {stretch:.1f} times too tall" if stretch > 1.05 else "to scale"
    run = "" if details.length_m else "; length not reported, one run is shown"
    parts = [
        text(8, 16, f"Long section, {how}{run}", font_weight=600),
        box(x0 - 26, y0, x1 - x0 + 52, y1 - y0 + 18, fill=SOIL),
        *dug_out(scale, x0, x1, depth, state.dug_m),
        line(x0 - 26, y0, x1 + 26, y0, stroke_width=2),
        *pavement(details, scale, x0 - 26, x0),
        *_ends(details, state, scale, (x0, x1), depth),
        *_stages(plan, scale, x0, x1),
        *_water(details, scale, x0, x1, depth),
        *_services(details, scale, length, x0, x1),
    ]
    return [
        *parts,
        *_dug(plan, state, scale, x0, x1),
        *units_in_row(plan, state, rail_m, scale),
        *(
            over((x0 + x1) / 2, y1 - 8 - 16 * n, each, text_anchor="middle", font_weight=600)
            for n, each in enumerate(not_placed(plan, state))
        ),
        *_ruler(scale, length, y1 + 34),
    ]


def not_placed(plan: Sized, state: TrenchState) -> list[str]:
    """What is reported of units and cannot be drawn, since nobody said which or where."""
    shores = state.shores
    if shores.layout != plan.levels:
        return []
    told = []
    placed = all(level.positions_m for level in plan.levels)
    drawn = sum(set_in_level(plan, state, index) for index in range(len(plan.levels))) if placed else 0
    if shores.standing > drawn:
        told.append(f"{shores.standing - drawn} units reported set, places not known")
    beyond = [unit for unit in sorted(shores.gauges) if shores.planned and unit > shores.planned]
    if beyond:
        told.append(f"gauge of unit {shores.listed(beyond)}, which the plan does not have")
    return told


def _stages(plan: Sized, scale: Scale, x0: float, x1: float) -> list[Markup]:
    parts = []
    for n, depth in enumerate(plan.stages_m[:-1], start=1):
        y = scale.y(depth)
        parts.append(line(x0, y, x1, y, stroke=PALE, stroke_dasharray="7 5"))
        parts.append(text(x1 + 30, y + 4, f"dig {n}: {scale.say.length(depth, 'upper')}"))
    full = plan.stages_m[-1]
    parts.append(text(x0 - 4, scale.y(full) + 4, scale.say.told(full), text_anchor="end"))
    parts.append(line(x0, scale.y(full), x1, scale.y(full), stroke=PALE, stroke_dasharray="7 5"))
    for level in plan.levels:
        parts.append(
            text(x0 - 4, scale.y(level.depth_m) + 4, scale.say.length(level.depth_m), text_anchor="end")
        )
    return parts


def _dug(plan: Sized, state: TrenchState, scale: Scale, x0: float, x1: float) -> list[Markup]:
    """How deep it is dug: named beside the trench, under the name of a stage that it is close to."""
    if state.dug_m is None:
        return []
    depth, told = plan.stages_m[-1], f"dug {scale.say.told(state.dug_m)}"
    y = scale.y(state.dug_m)
    parts = [line(x0, y, x1, y, stroke_width=3)]
    if state.dug_m > depth:
        deeper = f"{told}: deeper than the plan"
        return [*parts, over((x0 + x1) / 2, y + 14, deeper, text_anchor="middle", font_weight=600)]
    close = [place for each in plan.stages_m[:-1] if abs((place := scale.y(each)) - y) < 13]
    return [*parts, text(x1 + 30, (close[-1] + 14 if close else y) + 4, told, font_weight=600)]


def _water(details: Details, scale: Scale, x0: float, x1: float, depth: Metre) -> list[Markup]:
    """Water is drawn at the bottom: how high it stands is not told."""
    if details.water not in ("seeping", "standing"):
        return []
    y = scale.y(depth) - 6
    waves = "".join(" q 6 -7 12 0 t 12 0" for _ in range(int((x1 - x0) // 24)))
    return [
        element("path", d=f"M {x0:.0f} {y:.1f}{waves}", stroke="#11566b", stroke_width=2),
        text((x0 + x1) / 2, y - 8, f"water {details.water}", text_anchor="middle", fill="#11566b"),
    ]


def _ends(
    details: Details, state: TrenchState, scale: Scale, faces: tuple[float, float], depth: Metre
) -> list[Markup]:
    """A battered end slopes, a supported one has its sheet; how far it slopes is not told."""
    y, (x0, x1) = scale.y(0) - 8, faces
    if details.ends is None:
        return [text(x, y, "end?", text_anchor="middle", font_weight=600) for x in faces]
    marks = {"battered": "end battered", "supported": "end supported", "open": "END OPEN"}
    anchors = ((x0 - 26, "start"), (x1 + 26, "end"))
    parts = [text(x, y, marks[details.ends], text_anchor=anchor) for x, anchor in anchors]
    top, bottom = scale.y(0), scale.y(min(state.dug_m or depth, depth))
    if details.ends == "battered":
        slopes = ((x0, -24), (x1, 24))
        return [
            *(
                element(
                    "path",
                    d=f"M {x:.1f} {top:.1f} h {out} L {x:.1f} {bottom:.1f} z",
                    fill="#fff",
                    stroke=INK,
                    stroke_dasharray=None if state.dug_m else "5 4",
                    class_="batter",
                )
                for x, out in slopes
            ),
            *parts,
        ]
    if details.ends == "supported":
        sheets = (box(x, top, 5, bottom - top, fill=PALE, stroke=INK) for x in (x0, x1 - 5))
        return [*sheets, *parts]
    return parts


def _services(details: Details, scale: Scale, length: Metre, x0: float, x1: float) -> list[Markup]:
    """Those that cross are named by turns in two rows, so that neighbours can both be read."""
    crossing = [each for each in details.services if each.at_m is not None]
    running = [each for each in details.services if each.at_m is None and each.depth_m is not None]
    return [
        *(_crossing(each, scale, length, row=n % 2) for n, each in enumerate(crossing)),
        *(_running(each, scale, x0, x1) for each in running),
    ]


def _crossing(service: BuriedService, scale: Scale, length: Metre, row: int) -> Markup:
    """A ring at its depth, or a dotted line from the ground down where that is not known."""
    x = scale.x(min(service.at_m or 0.0, length))
    label = text(x, TOP - 22 - 12 * row, service.what, text_anchor="middle", font_size=11)
    if service.depth_m is None:
        end = scale.y(0) + scale.paper.tall / 3
        return group([line(x, TOP, x, end, stroke_dasharray="2 4", stroke_width=2), label])
    ring = element("circle", cx=x, cy=scale.y(service.depth_m), r=7, stroke=INK, stroke_width=3, fill="#fff")
    return group([line(x, TOP - 18, x, scale.y(service.depth_m) - 7, stroke_dasharray="2 3"), ring, label])


def _running(service: BuriedService, scale: Scale, x0: float, x1: float) -> Markup:
    y = scale.y(service.depth_m or 0.0)
    return group(
        [
            line(x0, y, x1, y, stroke_width=3, stroke_dasharray="12 4 2 4"),
            over(x1 - 4, y - 5, f"{service.what} along a face", text_anchor="end", font_size=11),
        ]
    )


def _ruler(scale: Scale, length: Metre, y: float) -> list[Markup]:
    """Marks at round lengths, in feet for those who write in feet or inches."""
    name, one = ("ft", M_PER_FT) if scale.say.lengths in ("ft", "in") else ("m", 1.0)
    most = scale.paper.long / 40
    step = next(each for each in (0.5, 1.0, 2.0, 5.0, 10.0, 50.0, 1e9) if length / one / each <= most)
    parts = [line(scale.x(0), y, scale.x(length), y)]
    for n in range(int(length / one / step + 1e-9) + 1):
        x = scale.x(n * step * one)
        parts += [
            line(x, y - 4, x, y + 4),
            text(x, y + 17, printed(n * step), text_anchor="middle", font_size=11),
        ]
    return [*parts, text(scale.x(length) + 8, y + 4, name, font_size=11)]
