"""Gauge readings over time, one small strip a unit: its band, hazards and inspections marked. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from markupsafe import Markup

from bot.drawing.svg import box, drawing, element, line, text
from bot.office.gauge_strip import ReadingState, reading_state
from knowledge.outcome import Sized
from knowledge.record.set_shores import UNKNOWN, Bands
from knowledge.record.trench import Event, Trench
from knowledge.tables.entry_rules import EntryRules
from knowledge.units import Bar, printed

WIDE, TALL = 300.0, 84.0
LEFT, RIGHT, TOP, BOTTOM = 34.0, 12.0, 20.0, 16.0
GOOD, BAD, INK = "#0d5c48", "#98210f", "#3b4a50"
LEAST = timedelta(minutes=10)
_OUTSIDE = {"low": ", too low", "high": ", too high"}


@dataclass(frozen=True)
class GaugeReading:
    """One gauge as it was read."""

    at: datetime
    unit: int
    bar: Bar
    state: ReadingState  # against the bands that it had then


@dataclass(frozen=True)
class Moments:
    """What stands across every strip: when hazards were told, and when somebody inspected."""

    hazards: tuple[datetime, ...] = ()
    inspections: tuple[datetime, ...] = ()


def readings(trench: Trench, rules: EntryRules) -> tuple[GaugeReading, ...]:
    """Every reading that the record took, in the order of time."""
    return tuple(
        GaugeReading(
            event.at, unit, gauge.bar, reading_state(gauge, Bands.of(state.plan, rules), state.dug_m)
        )
        for event, state in zip(trench.events, trench.states, strict=True)
        if event.reading.gauges
        for unit, gauge in sorted(state.shores.gauges.items())
        if gauge.at == event.at
    )


def moments(trench: Trench, inspected: Sequence[Event]) -> Moments:
    """When a hazard was opened, a gauge's fall among them, and when somebody inspected."""
    opened = {each.said.at for state in trench.states for each in state.hazards}
    return Moments(tuple(sorted(opened)), tuple(event.at for event in inspected))


def strips(
    reads: Sequence[GaugeReading], plan: Sized, zone: tzinfo, when: Moments = Moments()
) -> list[Markup]:
    """A strip for each unit that was read. Raises ValueError without readings."""
    if not reads:
        raise ValueError("there is no reading to draw")
    first = min(each.at for each in reads)
    last = max(max(each.at for each in reads), first + LEAST)
    planned = None if any(level.units is None for level in plan.levels) else plan.units
    units = sorted({each.unit for each in reads}, key=lambda unit: (unit == UNKNOWN, unit))
    return [
        _strip([each for each in reads if each.unit == unit], plan, zone, when, (first, last), planned)
        for unit in units
    ]


def _strip(
    own: Sequence[GaugeReading],
    plan: Sized,
    zone: tzinfo,
    when: Moments,
    within: tuple[datetime, datetime],
    planned: int | None,
) -> Markup:
    low, high = plan.pressure_bar
    greatest = max(high, *(each.bar for each in own)) * 1.1
    first, last = within
    floor = TALL - BOTTOM

    def x(at: datetime) -> float:
        share = (at - first) / (last - first)
        return LEFT + 6 + min(max(share, 0.0), 1.0) * (WIDE - LEFT - RIGHT - 6)

    def y(bar: Bar) -> float:
        return floor - bar / greatest * (floor - TOP)

    unit, now = own[0].unit, own[-1]
    beyond = planned is not None and unit > planned
    name = _name(unit) + (", not in the plan" if beyond else "")
    outside = now.state in _OUTSIDE
    title = f"{name}: {printed(now.bar)} bar{_OUTSIDE.get(now.state, '')}"
    parts = [
        text(2, 13, title, font_weight=700 if outside else 600, fill=BAD if outside else INK),
        box(LEFT, y(high), WIDE - LEFT - RIGHT, y(low) - y(high), fill="#e3e9e4"),
        line(LEFT, floor, WIDE - RIGHT, floor),
        text(LEFT - 4, y(high) + 4, printed(high), text_anchor="end", font_size=10),
        text(LEFT - 4, y(low) + 4, printed(low), text_anchor="end", font_size=10),
        text(LEFT - 4, floor + 4, "bar", text_anchor="end", font_size=10),
        *(_across(x(at), BAD, "3 2", "!", floor) for at in when.hazards if first <= at <= last),
        *(_across(x(at), GOOD, "1 3", "I", floor) for at in when.inspections if first <= at <= last),
        *_course([(x(each.at), y(each.bar), each.state in _OUTSIDE) for each in own]),
        text(LEFT, TALL - 3, _short(first, zone), font_size=10),
        text(WIDE - RIGHT, TALL - 3, _short(last, zone), font_size=10, text_anchor="end"),
    ]
    told = "; ".join(f"{printed(r.bar)} bar at {_short(r.at, zone)}" for r in own)
    band = f"band {printed(low)} to {printed(high)} bar"
    return drawing(WIDE, TALL, title, f"{told}; {band}", f"gauge-{unit}", parts)


def _across(x: float, colour: str, dashes: str, sign: str, floor: float) -> Markup:
    stroke = line(x, TOP, x, floor, stroke=colour, stroke_dasharray=dashes, stroke_width=1.5)
    return Markup("").join([stroke, text(x + 2, TOP + 9, sign, fill=colour, font_size=10, font_weight=700)])


def _short(at: datetime, zone: tzinfo) -> str:
    return f"{at.astimezone(zone):%d %b %H:%M}"


def _course(points: list[tuple[float, float, bool]]) -> list[Markup]:
    """A line from reading to reading; one outside the band is a cross."""
    path = " L ".join(f"{x:.1f} {y:.1f}" for x, y, _ in points)
    marks = [
        element("path", d=f"M {x - 4:.1f} {y - 4:.1f} l 8 8 m 0 -8 l -8 8", stroke=BAD, stroke_width=2.5)
        if outside
        else element("circle", cx=x, cy=y, r=3, fill=INK)
        for x, y, outside in points
    ]
    return [element("path", d=f"M {path}", stroke=INK, stroke_width=1.3), *marks]


def _name(unit: int) -> str:
    return "A unit not named" if unit == UNKNOWN else f"Unit {unit}"
