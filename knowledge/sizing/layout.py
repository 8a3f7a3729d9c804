"""Where the units stand, level by level, round the services.

Each level is a row (row.py). A crossing service bars a stretch of the row at the depths where the rails
would meet it; a service along a face bars depths. A level may move inside its window: to any whole
centimetre of it, to its ends, or not at all. The depths with the fewest units in all are found level by
level, top down; of those the ones with the fewest turned units.

A unit may be turned, its rails level, at a crossing service where an upright one cannot stand, on the levels
that say from which depth on.

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

# Any gap too wide outweighs every unit, any unit every turned one, and any turned one every shift.
_OVER, _UNIT, _TURNED = 10**20, 10**14, 10**9
_ANY_DEPTH = (-(10**9), 10**9)
_UM_PER_CM = 10_000


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A service that units must clear.

    `at_m` is where it crosses the trench, None for one along a face. `depth_m` None is unknown: every
    level must clear it (so one along a face, at a depth nobody knows, is to be asked for beforehand). A
    centre must be `aside_m` away along the trench (half the service, clearance, half a rail's width), or
    the strut axis `around_m` away in depth (half the service, clearance, half a rail's length).
    `turned_m`: the same two of a unit whose rails lie level; None: it cannot be passed so.
    """

    at_m: Metre | None
    depth_m: Metre | None
    aside_m: Metre
    around_m: Metre
    turned_m: tuple[Metre, Metre] | None = None


@dataclass(frozen=True, slots=True)
class AxisWindow:
    """Where the strut axis of one level may lie: best at `best_m`, from `top_m` down to `bottom_m`.

    `below_m`: least and most distance under the level above; not read for the first level. `turned_from_m`:
    how deep the level must lie for a unit of it to be turned; None: none is.
    """

    top_m: Metre
    best_m: Metre
    bottom_m: Metre
    below_m: tuple[Metre, Metre] = (0.0, 0.0)
    turned_from_m: Metre | None = None


@dataclass(frozen=True, slots=True)
class Placed:
    """One level: depth of its strut axis, the units' centres from the start end, and those of turned ones."""

    depth_m: Metre
    positions_m: tuple[Metre, ...]
    turned_m: tuple[Metre, ...] = ()


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
    """All levels, top down: the fewest units in all, then the fewest turned, then the least shift from the
    best depths."""
    rows = _Rows(run, keep_outs)
    levels = [_Depths.of(window) for window in windows]
    depths = _as_wished(levels, rows) or _shifted(levels, rows)
    if not depths:
        return NoLayout("depth")
    found = [rows.at(depth, level) for depth, level in zip(depths, levels, strict=True)]
    if all(r.units for r in found):
        placed = zip(depths, found, strict=True)
        return tuple(Placed(depth / 1e6, r.positions_m, r.turned_m) for depth, r in placed)
    gaps = tuple((level, gap) for level, r in enumerate(found) for gap in r.gaps)
    return NoLayout("gap" if gaps else "room", gaps)


@dataclass(frozen=True, slots=True)
class _Depths:
    """A window in micrometres, so that whole millimetres and inches are whole numbers; none is lost."""

    best: int
    least: int
    most: int
    choice: list[int]
    turned_from: float

    @classmethod
    def of(cls, window: AxisWindow) -> "_Depths":
        top, bottom = _um(window.top_m), _um(window.bottom_m)
        best = min(max(_um(window.best_m), top), bottom)
        tape = range(-(-top // _UM_PER_CM) * _UM_PER_CM, bottom + 1, _UM_PER_CM)
        choice = sorted({top, best, bottom, *tape}) if top <= bottom else []
        turned_from = inf if window.turned_from_m is None else _um(window.turned_from_m)
        return cls(best, _um(window.below_m[0]), _um(window.below_m[1]), choice, turned_from)

    def above(self, depth: int, upper: "_Depths") -> slice:
        """Which choices of the upper window are a lawful step above `depth`."""
        lowest, highest = depth - self.least, depth - self.most
        return slice(bisect_left(upper.choice, highest), bisect_right(upper.choice, lowest))


class _Rows:
    """The row at each depth; depths that meet the same services share one."""

    def __init__(self, run: Run, keep_outs: Sequence[KeepOut]) -> None:
        self._run = RunInMm.of(run)
        self._along = [_band(k, k.around_m) for k in keep_outs if k.at_m is None]
        self._across = _barred([(k, k.aside_m, k.around_m) for k in keep_outs])
        self._turned = _barred([(k, *(k.turned_m or (k.aside_m, inf))) for k in keep_outs])
        bands = (*self._along, *(band for _, band in (*self._across, *self._turned)))
        self._edges = sorted({edge for band in bands for edge in band})
        self._known: dict[tuple[tuple[Stretch, ...], tuple[Stretch, ...] | None], UnitRow] = {}

    def barred(self, depth: int) -> bool:
        return any(a < depth < b for a, b in self._along)

    def at(self, depth: int, level: _Depths) -> UnitRow:
        return self._past(depth, depth, level)

    def always(self, level: _Depths) -> UnitRow:
        """The row past what is in the way at every depth of the window: no depth takes fewer units, or of as
        many fewer turned ones, since an upright unit may stand wherever it does not always bar it."""
        return self._past(level.choice[0], level.choice[-1], level)

    def costs(self, level: _Depths) -> list[float]:
        """What each choice of depth costs; infinite where a service lies along the face."""
        costs: list[float] = []
        own, before = inf, (-1, -1, False)
        for depth in level.choice:
            turns = depth >= level.turned_from
            between = bisect_left(self._edges, depth), bisect_right(self._edges, depth), turns
            if between != before:
                own, before = inf if self.barred(depth) else _cost(self.at(depth, level)), between
            costs.append(own + abs(depth - level.best))
        return costs

    def _past(self, top: int, bottom: int, level: _Depths) -> UnitRow:
        upright = tuple(stretch for stretch, (a, b) in self._across if a < top and bottom < b)
        turned = None
        if self._run.turned_margin is not None and bottom >= level.turned_from:
            turned = tuple(stretch for stretch, (a, b) in self._turned if a < top and bottom < b)
        if (upright, turned) not in self._known:
            self._known[upright, turned] = UnitRow(self._run, upright, turned)
        return self._known[upright, turned]


def _cost(found: UnitRow) -> int:
    if found.units:
        return found.units * _UNIT + found.level * _TURNED
    return (1 + sum(round(gap.over_m * 1000) for gap in found.gaps)) * _OVER


def _as_wished(levels: Sequence[_Depths], rows: _Rows) -> list[int]:
    """The best depths, or none where another depth might save a unit."""
    best = [level.best for level in levels]
    if not all(level.choice for level in levels) or any(map(rows.barred, best)):
        return []
    if not all(b.least <= b.best - a.best <= b.most for a, b in pairwise(levels)):
        return []
    as_good = all(
        rows.at(lv.best, lv).units and _cost(rows.at(lv.best, lv)) <= _cost(rows.always(lv)) for lv in levels
    )
    return best if as_good else []


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


def _barred(of: list[tuple[KeepOut, Metre, Metre]]) -> list[tuple[Stretch, Stretch]]:
    """What crossing services bar, given how far aside and around: stretches along, each with its depths."""
    across = (
        ((mm_down(k.at_m - aside), mm_up(k.at_m + aside)), _band(k, around))
        for k, aside, around in of
        if k.at_m is not None
    )
    return sorted(across)


def _band(keep_out: KeepOut, around: Metre) -> Stretch:
    """The strut depths that a keep-out bars: those strictly between."""
    if keep_out.depth_m is None or around == inf:
        return _ANY_DEPTH
    return _um(keep_out.depth_m - around), _um(keep_out.depth_m + around)


def _um(metres: float) -> int:
    return round(metres * 1e6)
