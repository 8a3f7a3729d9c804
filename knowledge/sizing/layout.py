"""Where the units stand, level by level, round the services.

Each level is a row (row.py). A crossing service bars a stretch of the row at the depths where the rails
would meet it; a service along a face bars depths. A level may move inside its window: to any whole
centimetre of it, to its ends, or not at all. The depths with the fewest units in all are found level by
level, top down.

The same problem written as a mixed-integer programme has the same optimum: tests/test_layout_optimum.py.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import Literal

from knowledge.sizing.row import Gap, Run, RunInMm, Stretch, UnitRow, mm_down, mm_up
from knowledge.units import Metre

# Any gap too wide outweighs every unit, and any unit outweighs every shift.
_OVER, _UNIT = 10**15, 10**9
_ANY_DEPTH = (-(10**9), 10**9)
_UM_PER_CM = 10_000


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A service that units must clear.

    `at_m` is where it crosses the trench, None for one along a face. `depth_m` None is unknown: every
    level must clear it (so one along a face, at a depth nobody knows, is to be asked for beforehand). A
    centre must be `aside_m` away along the trench (half the service, clearance, half a rail's width), or
    the strut axis `around_m` away in depth (half the service, clearance, half a rail's length).
    """

    at_m: Metre | None
    depth_m: Metre | None
    aside_m: Metre
    around_m: Metre


@dataclass(frozen=True, slots=True)
class AxisWindow:
    """Where the strut axis of one level may lie: best at `best_m`, from `top_m` down to `bottom_m`.

    `below_m`: least and most distance under the level above; not read for the first level.
    """

    top_m: Metre
    best_m: Metre
    bottom_m: Metre
    below_m: tuple[Metre, Metre] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Placed:
    """One level: depth of its strut axis, and the units' centres from the start end."""

    depth_m: Metre
    positions_m: tuple[Metre, ...]


@dataclass(frozen=True, slots=True)
class NoLayout:
    """No lawful layout.

    `gap`: the gaps named stay open wherever the levels go, each with its level (0 is the top one).
    `room`: fewer units fit in than the rulebook's least group. `depth`: no depth is left for a level.
    """

    cause: Literal["gap", "room", "depth"]
    gaps: tuple[tuple[int, Gap], ...] = ()


def place(
    run: Run, windows: Sequence[AxisWindow], keep_outs: Sequence[KeepOut] = ()
) -> tuple[Placed, ...] | NoLayout:
    """All levels, top down: the fewest units in all, then the least shift from the best depths."""
    rows = _Rows(run, keep_outs)
    levels = [_Depths.of(window) for window in windows]
    depths = _as_wished(levels, rows) or _shifted(levels, rows)
    if not depths:
        return NoLayout("depth")
    found = [rows.at(depth) for depth in depths]
    if all(r.units for r in found):
        return tuple(Placed(depth / 1e6, r.positions_m) for depth, r in zip(depths, found, strict=True))
    gaps = tuple((level, gap) for level, r in enumerate(found) for gap in r.gaps)
    return NoLayout("gap" if gaps else "room", gaps)


@dataclass(frozen=True, slots=True)
class _Depths:
    """A window in micrometres, so that whole millimetres and inches are whole numbers; none is lost."""

    best: int
    least: int
    most: int
    choice: list[int]

    @classmethod
    def of(cls, window: AxisWindow) -> "_Depths":
        top, bottom = _um(window.top_m), _um(window.bottom_m)
        best = min(max(_um(window.best_m), top), bottom)
        tape = range(-(-top // _UM_PER_CM) * _UM_PER_CM, bottom + 1, _UM_PER_CM)
        choice = sorted({top, best, bottom, *tape}) if top <= bottom else []
        return cls(best, _um(window.below_m[0]), _um(window.below_m[1]), choice)

    def above(self, depth: int, upper: "_Depths") -> slice:
        """Which choices of the upper window are a lawful step above `depth`."""
        lowest, highest = depth - self.least, depth - self.most
        return slice(bisect_left(upper.choice, highest), bisect_right(upper.choice, lowest))


class _Rows:
    """The row at each depth; depths that meet the same services share one."""

    def __init__(self, run: Run, keep_outs: Sequence[KeepOut]) -> None:
        self._run = RunInMm.of(run)
        self._along = [_band(k) for k in keep_outs if k.at_m is None]
        self._across = sorted(
            (mm_down(k.at_m - k.aside_m), mm_up(k.at_m + k.aside_m), *_band(k))
            for k in keep_outs
            if k.at_m is not None
        )
        self._edges = sorted({edge for *_, a, b in (*self._along, *self._across) for edge in (a, b)})
        self._known: dict[tuple[Stretch, ...], UnitRow] = {}

    def barred(self, depth: int) -> bool:
        return any(a < depth < b for a, b in self._along)

    def at(self, depth: int) -> UnitRow:
        return self._past(tuple((x, y) for x, y, a, b in self._across if a < depth < b))

    def always(self, depths: _Depths) -> UnitRow:
        """The row past what is in the way at every depth of the window: no depth takes fewer units."""
        top, bottom = depths.choice[0], depths.choice[-1]
        return self._past(tuple((x, y) for x, y, a, b in self._across if a < top and bottom < b))

    def costs(self, depths: _Depths) -> list[float]:
        """What each choice of depth costs; infinite where a service lies along the face."""
        costs: list[float] = []
        own, before = inf, (-1, -1)
        for depth in depths.choice:
            between = bisect_left(self._edges, depth), bisect_right(self._edges, depth)
            if between != before:
                own, before = inf if self.barred(depth) else _cost(self.at(depth)), between
            costs.append(own + abs(depth - depths.best))
        return costs

    def _past(self, stretches: tuple[Stretch, ...]) -> UnitRow:
        if stretches not in self._known:
            self._known[stretches] = UnitRow(self._run, stretches)
        return self._known[stretches]


def _cost(found: UnitRow) -> int:
    if found.units:
        return found.units * _UNIT
    return (1 + sum(round(gap.over_m * 1000) for gap in found.gaps)) * _OVER


def _as_wished(levels: Sequence[_Depths], rows: _Rows) -> list[int]:
    """The best depths, or none where another depth might save a unit."""
    best = [level.best for level in levels]
    if not all(level.choice for level in levels) or any(map(rows.barred, best)):
        return []
    if not all(b.least <= b.best - a.best <= b.most for a, b in pairwise(levels)):
        return []
    return best if all(0 < rows.at(lv.best).units <= rows.always(lv).units for lv in levels) else []


def _shifted(levels: Sequence[_Depths], rows: _Rows) -> list[int]:
    """The depths that cost least in all, or none where a level has no depth."""
    totals: list[list[float]] = [rows.costs(levels[0])]
    for upper, lower in pairwise(levels):
        above = totals[-1]
        totals.append(
            [
                cost + min(above[lower.above(depth, upper)], default=inf)
                for depth, cost in zip(lower.choice, rows.costs(lower), strict=True)
            ]
        )
    if min(totals[-1], default=inf) == inf:
        return []
    chosen = [levels[-1].choice[totals[-1].index(min(totals[-1]))]]
    for i in range(len(levels) - 2, -1, -1):
        span = levels[i + 1].above(chosen[-1], levels[i])
        chosen.append(levels[i].choice[totals[i].index(min(totals[i][span]), span.start)])
    return chosen[::-1]


def _band(keep_out: KeepOut) -> Stretch:
    """The strut depths that a keep-out bars: those strictly between."""
    if keep_out.depth_m is None:
        return _ANY_DEPTH
    return _um(keep_out.depth_m - keep_out.around_m), _um(keep_out.depth_m + keep_out.around_m)


def _um(metres: float) -> int:
    return round(metres * 1e6)
