"""The sketch along the trench: units from the front, stages, services, water, what is dug."""

from markupsafe import Markup

from bot.office.section import INK, PALE, SOIL, STEEL, TALL, TOP, Scale, pavement
from bot.office.svg import box, element, group, line, text
from knowledge.facts import State
from knowledge.outcome import Sized
from knowledge.reading import Details, Service
from knowledge.setting import Pumped
from knowledge.units import Amount, Metre, printed, show


def long_section(
    plan: Sized, details: Details, state: State, rail_m: Metre, scale: Scale, length: Metre
) -> list[Markup]:
    depth = plan.stages_m[-1]
    x0, x1, y0, y1 = scale.x(0), scale.x(length), scale.y(0), scale.y(depth)
    stretched = f", heights × {scale.down / scale.along:.1f}" if scale.down > scale.along * 1.05 else ""
    told = f"Long section{stretched}" + ("" if details.length_m else ": length not told, a run is shown")
    parts = [
        text(x0, 16, told, font_weight=600),
        box(x0 - 26, y0, x1 - x0 + 52, y1 - y0 + 18, fill=SOIL),
        box(x0, y0, x1 - x0, y1 - y0, fill="#fff", stroke=INK, stroke_width=1.5),
        line(x0 - 26, y0, x1 + 26, y0, stroke_width=2),
        *pavement(details, scale, x0 - 26, x0),
        *_stages(plan, scale, x0, x1),
        *_dug(state, scale, x0, x1, depth),
        *_water(details, scale, x0, x1, depth),
        *_ends(details, scale, x0, x1),
    ]
    parts += [_crossing(each, scale, length) for each in details.services if each.at_m is not None]
    parts += [
        _running(each, scale, x0, x1) for each in details.services if each.at_m is None and each.depth_m
    ]
    parts += _units(plan, state, rail_m, scale)
    return [*parts, *_ruler(scale, length, y1 + 34)]


def _units(plan: Sized, state: State, rail_m: Metre, scale: Scale) -> list[Markup]:
    """Each unit from the front: its rail, the strut end-on, its number, its gauge against the band."""
    parts, number = [], 0
    shores = state.shores
    for index, level in enumerate(plan.levels):
        for place, at in enumerate(level.positions_m or ()):
            number += 1
            standing = shores.layout == plan.levels and (
                shores.level_set(index) or place < shores.counts[index]
            )
            gauge = shores.gauges.get(number) if standing or shores.layout == plan.levels else None
            parts.append(_unit_at(scale, at, level.depth_m, rail_m, number, standing or gauge is not None))
            if gauge:
                parts.append(_gauge(scale, at, level.depth_m, gauge, plan))
    return parts


def _unit_at(scale: Scale, at: Metre, depth: Metre, rail: Metre, number: int, standing: bool) -> Markup:
    x, top, bottom = scale.x(at), scale.y(max(0.0, depth - rail / 2)), scale.y(depth + rail / 2)
    fill = STEEL if standing else "#fff"
    return group(
        [
            box(
                x - 4,
                top,
                8,
                bottom - top,
                fill=fill,
                stroke=STEEL,
                stroke_dasharray=None if standing else "4 3",
            ),
            element("circle", cx=x, cy=scale.y(depth), r=9, fill=fill, stroke=STEEL, stroke_width=1.5),
            text(x, scale.y(depth) + 4, str(number), text_anchor="middle", fill="#fff" if standing else INK),
        ]
    )


def _gauge(scale: Scale, at: Metre, depth: Metre, gauge: Pumped, plan: Sized) -> Markup:
    low, high = plan.pressure_bar
    mark = "▼ " if gauge.bar < low else "▲ " if gauge.bar > high else ""
    label = f"{mark}{printed(gauge.bar)}{'' if gauge.sure else ' ?'}"
    weight = 700 if mark else 400
    return text(scale.x(at) + 12, scale.y(depth) + 4, label, font_size=11, font_weight=weight)


def _stages(plan: Sized, scale: Scale, x0: float, x1: float) -> list[Markup]:
    parts = []
    for n, depth in enumerate(plan.stages_m[:-1], start=1):
        y = scale.y(depth)
        parts.append(line(x0, y, x1, y, stroke=PALE, stroke_dasharray="7 5"))
        parts.append(text(x1 + 30, y + 4, f"dig {n}: {show(Amount(depth, 'm', 'upper'))}"))
    full = plan.stages_m[-1]
    parts.append(text(x0 - 4, scale.y(full) + 4, printed(full), text_anchor="end"))
    for level in plan.levels:
        parts.append(text(x0 - 4, scale.y(level.depth_m) + 4, printed(level.depth_m), text_anchor="end"))
    return parts


def _dug(state: State, scale: Scale, x0: float, x1: float, depth: Metre) -> list[Markup]:
    if state.dug_m is None:
        return []
    y = scale.y(min(state.dug_m, depth))
    deeper = ": deeper than the plan" if state.dug_m > depth else ""
    return [
        line(x0, y, x1, y, stroke_width=3),
        text(x1 - 4, y - 5, f"dug {printed(state.dug_m)} m{deeper}", text_anchor="end", font_weight=600),
    ]


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


def _ends(details: Details, scale: Scale, x0: float, x1: float) -> list[Markup]:
    if details.ends is None:
        return [text(x, scale.y(0) - 8, "end?", text_anchor="middle", font_weight=600) for x in (x0, x1)]
    marks = {"battered": "end battered", "supported": "end supported", "open": "END OPEN"}
    anchors = ((x0 - 26, "start"), (x1 + 26, "end"))
    return [text(x, scale.y(0) - 8, marks[details.ends], text_anchor=anchor) for x, anchor in anchors]


def _crossing(service: Service, scale: Scale, length: Metre) -> Markup:
    """A service that crosses: a ring at its depth, or a line from top to bottom where that is not known."""
    x = scale.x(min(service.at_m or 0.0, length))
    label = text(x, scale.y(0) - 22, service.what, text_anchor="middle", font_size=11)
    if service.depth_m is None:
        return group([line(x, TOP, x, scale.y(0) + TALL / 3, stroke_dasharray="2 4", stroke_width=2), label])
    ring = element("circle", cx=x, cy=scale.y(service.depth_m), r=7, stroke=INK, stroke_width=3, fill="#fff")
    return group([line(x, TOP - 18, x, scale.y(service.depth_m) - 7, stroke_dasharray="2 3"), ring, label])


def _running(service: Service, scale: Scale, x0: float, x1: float) -> Markup:
    y = scale.y(service.depth_m or 0.0)
    return group(
        [
            line(x0, y, x1, y, stroke_width=3, stroke_dasharray="12 4 2 4"),
            text(x1 - 4, y - 5, f"{service.what} along a face", text_anchor="end", font_size=11),
        ]
    )


def _ruler(scale: Scale, length: Metre, y: float) -> list[Markup]:
    step = next(each for each in (0.5, 1.0, 2.0, 5.0, 10.0, 50.0, 1e9) if length / each <= 12)
    marks = [i * step for i in range(int(length / step + 1e-9) + 1)]
    parts = [line(scale.x(0), y, scale.x(length), y)]
    for at in marks:
        parts += [
            line(scale.x(at), y - 4, scale.x(at), y + 4),
            text(scale.x(at), y + 17, f"{printed(at)}", text_anchor="middle", font_size=11),
        ]
    return [*parts, text(scale.x(length) + 8, y + 4, "m", font_size=11)]
