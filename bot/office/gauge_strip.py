"""The gauges of a trench as a strip of marks, one a unit: each state has a shape of its own. Pure."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from markupsafe import Markup

from bot.drawing.svg import element
from knowledge.record.set_shores import UNKNOWN, Bands, UnitGauge
from knowledge.record.trench import Trench
from knowledge.tables.entry_rules import EntryRules
from knowledge.units import Metre, printed

ReadingState = Literal["in", "low", "high", "doubt"]
MOST = 40  # units that are drawn one by one
STEP, TALL = 11.0, 18.0
_MARKS = {
    "in": "M 1 4 h 8 v 10 h -8 z",
    "low": "M 0 8 h 10 l -5 9 z",
    "high": "M 0 10 h 10 l -5 -9 z",
    "doubt": "M 2 6 q 3 -5 6 0 q 0 3 -3 4 v 2 m 0 2 v 1",
    "set": "M 1.5 4.5 h 7 v 9 h -7 z",
    "planned": "M 4 8.5 h 2 v 2 h -2 z",
}
_OPEN = ("doubt", "set")  # drawn as a line


@dataclass(frozen=True)
class GaugeStrip:
    """The marks, the same in words, and when the oldest of the readings was made."""

    drawing: Markup
    words: str
    oldest: datetime | None


def reading_state(gauge: UnitGauge, bands: Bands, dug: Metre | None) -> ReadingState:
    """How a gauge stands to the band it was set in and to the one that it works in."""
    if not gauge.sure or bands.setting is None:
        return "doubt"
    low, high = bands.setting
    if not bands.well_set(gauge):
        return "high" if gauge.first > high + bands.rounding and gauge.bar >= low else "low"
    least, most = bands.working(gauge, dug)
    return "low" if gauge.bar < least else "high" if gauge.bar > most else "in"


def gauge_strip(trench: Trench, rules: EntryRules) -> GaugeStrip | None:
    """None where no unit is planned and none was read."""
    state = trench.now
    shores = state.shores
    bands = Bands.of(state.plan, rules)
    read = {unit: reading_state(g, bands, state.dug_m) for unit, g in shores.gauges.items()}
    units = range(1, max(shores.planned or 0, shores.standing, *read, 0) + 1)
    if not units and not read:
        return None
    marks = {unit: read.get(unit) or ("set" if _told_set(trench, unit) else "planned") for unit in units}
    shown = [*marks.values(), *([read[UNKNOWN]] if UNKNOWN in read else [])][:MOST]
    parts = [
        element("path", d=_MARKS[mark], transform=f"translate({n * STEP:.0f} 0)", class_=f"g-{mark}")
        for n, mark in enumerate(shown)
    ]
    wide = len(shown) * STEP
    drawing = element(
        "svg",
        Markup("").join(parts),
        viewBox=f"0 0 {wide:.0f} {TALL:.0f}",
        width=wide,
        height=TALL,
        class_="gauges",
        aria_hidden="true",
        focusable="false",
    )
    oldest = min((gauge.at for gauge in shores.gauges.values()), default=None)
    return GaugeStrip(drawing, _in_words(trench, read, len(units)), oldest)


def _told_set(trench: Trench, unit: int) -> bool:
    """Whether a unit that nobody read is told set; of some told by a bare number nobody says which."""
    shores = trench.now.shores
    if shores.complete:
        return True
    for index in range(len(shores.layout)):
        own = shores.units_of(index)
        if unit in own:
            return shores.level_set(index) or unit - own.start < shores.counts[index]
    return shores.planned is None and unit <= shores.standing


def _in_words(trench: Trench, read: dict[int, ReadingState], units: int) -> str:
    gauges = trench.now.shores.gauges
    if not read:
        return "no gauge read"
    names = {"low": "too low", "high": "too high", "doubt": "not trusted since"}
    odd = [
        f"unit {unit or '?'} {printed(gauges[unit].bar)} bar, {names[state]}"
        for unit, state in sorted(read.items())
        if state != "in"
    ]
    good = sum(state == "in" for state in read.values())
    # Three say what is wrong; the rest is on the page of the trench.
    more = [f"and {len(odd) - 3} more"] if len(odd) > 3 else []
    return "; ".join([*odd[:3], *more, f"{good} of {units or '?'} in the band"])
