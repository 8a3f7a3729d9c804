"""Gauge readings over time against the band to pump to, unit by unit. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from markupsafe import Markup

from bot.drawing.svg import box, drawing, element, line, text
from knowledge.outcome import Sized
from knowledge.record.set_shores import UNKNOWN
from knowledge.record.trench import Trench
from knowledge.units import Bar, printed

WIDE, TALL = 900.0, 260.0
LEFT, RIGHT, TOP, BOTTOM = 48.0, 90.0, 24.0, 40.0


@dataclass(frozen=True)
class GaugeReading:
    """One gauge as it was read."""

    at: datetime
    unit: int
    bar: Bar
    outside: bool  # of the band that its plan had then


def readings(trench: Trench) -> tuple[GaugeReading, ...]:
    """Every reading that the record took, in the order of time."""
    return tuple(
        GaugeReading(event.at, unit, gauge.bar, state.plan is not None and _outside(gauge.bar, state.plan))
        for event, state in zip(trench.events, trench.states, strict=True)
        if event.reading.gauges
        for unit, gauge in sorted(state.shores.gauges.items())
        if gauge.at == event.at
    )


def chart(reads: Sequence[GaugeReading], plan: Sized, zone: tzinfo, name: str = "gauges") -> Markup:
    """The chart as an SVG element. Raises ValueError without readings."""
    if not reads:
        raise ValueError("there is no reading to draw")
    low, high = plan.pressure_bar
    greatest = max(high, *(each.bar for each in reads)) * 1.15
    first, last = min(each.at for each in reads), max(each.at for each in reads)
    span = (last - first).total_seconds() or 1.0

    def x(at: datetime) -> float:
        share = (at - first).total_seconds() / span if last > first else 0.5
        return LEFT + share * (WIDE - LEFT - RIGHT)

    def y(bar: Bar) -> float:
        return TALL - BOTTOM - bar / greatest * (TALL - TOP - BOTTOM)

    band = f"band {printed(low)} to {printed(high)} bar"
    parts = [
        box(LEFT, y(high), WIDE - LEFT - RIGHT, y(low) - y(high), fill="#e3e9e4"),
        line(LEFT, y(high), WIDE - RIGHT, y(high), stroke_dasharray="6 4"),
        line(LEFT, y(low), WIDE - RIGHT, y(low), stroke_dasharray="6 4"),
        line(LEFT, y(0), WIDE - RIGHT, y(0)),
        text(LEFT + 4, y(high) - 5, band, font_size=11),
    ]
    parts += [text(LEFT - 6, y(bar) + 4, printed(bar), text_anchor="end") for bar in (0.0, low, high)]
    for own in _alike(reads):
        parts += _course([(x(each.at), y(each.bar), each.outside) for each in own])
    parts += [text(x(at) + 9, y(bar) + 4, _names(units), font_size=11) for (at, bar), units in _last(reads)]
    ends = ((first, "start"), (last, "end")) if last > first else ((first, "middle"),)
    parts += [
        text(x(at), TALL - 14, f"{at.astimezone(zone):%d %b %H:%M}", text_anchor=anchor)
        for at, anchor in ends
    ]
    told = "; ".join(
        f"{_name(r.unit)} {printed(r.bar)} bar at {r.at.astimezone(zone):%d %b %H:%M}" for r in reads
    )
    return drawing(WIDE, TALL, f"Gauge readings against the {band}", told, name, parts)


def _alike(reads: Sequence[GaugeReading]) -> list[list[GaugeReading]]:
    """Each unit's readings; those of units that read the same at the same times once."""
    found: dict[tuple[tuple[datetime, Bar], ...], list[GaugeReading]] = {}
    for unit in sorted({each.unit for each in reads}):
        own = [each for each in reads if each.unit == unit]
        found.setdefault(tuple((each.at, each.bar) for each in own), own)
    return list(found.values())


def _last(reads: Sequence[GaugeReading]) -> list[tuple[tuple[datetime, Bar], list[int]]]:
    """Where the units' lines end, each place with the units that end there."""
    last = {each.unit: (each.at, each.bar) for each in reads}
    found: dict[tuple[datetime, Bar], list[int]] = {}
    for unit in sorted(last):
        found.setdefault(last[unit], []).append(unit)
    return list(found.items())


def _outside(bar: Bar, plan: Sized) -> bool:
    low, high = plan.pressure_bar
    return not low <= bar <= high


def _course(points: list[tuple[float, float, bool]]) -> list[Markup]:
    """A line from reading to reading; one outside the band is a cross."""
    path = " L ".join(f"{x:.1f} {y:.1f}" for x, y, _ in points)
    marks = [
        element(
            "path", d=f"M {x - 5:.1f} {y - 5:.1f} l 10 10 m 0 -10 l -10 10", stroke="#98210f", stroke_width=3
        )
        if outside
        else element("circle", cx=x, cy=y, r=4, fill="#3b4a50")
        for x, y, outside in points
    ]
    return [element("path", d=f"M {path}", stroke="#3b4a50", stroke_width=1.5), *marks]


def _names(units: list[int]) -> str:
    if len(units) == 1:
        return _name(units[0])
    joined = units[-1] - units[0] == len(units) - 1 and len(units) > 2
    return f"units {units[0]}-{units[-1]}" if joined else f"units {', '.join(map(str, units))}"


def _name(unit: int) -> str:
    return "unit ?" if unit == UNKNOWN else f"unit {unit}"
