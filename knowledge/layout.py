"""Where the units stand, level by level, round the services.

Each level is a row (row.py). A crossing service bars a stretch of the row at the depths where the rails
would meet it; a service along a face bars depths. A level may move inside its window; the depths with the
fewest units in all are found over whole centimetres, limits rounded to the safe side.

The same problem written as a mixed-integer programme has the same optimum: tests/test_layout_optimum.py.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import Literal

from knowledge.row import Gap, Mm, Piece, Row, Run, mm_down, mm_up
from knowledge.units import Metre

# Any gap too wide outweighs every unit, and any unit outweighs every shift.
_OVER, _UNIT = 10**12, 10**6
_ANY_DEPTH = (-(10**9), 10**9)


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
class Window:
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
class Blocked:
    """No lawful layout.

    `gap`: the gaps named stay open wherever the levels go, each with its level (0 is the top one).
    `room`: fewer units fit in than the rulebook's least group. `depth`: no depth is left for a level.
    """

    cause: Literal["gap", "room", "depth"]
    gaps: tuple[tuple[int, Gap], ...] = ()


def place(
    run: Run, windows: Sequence[Window], keep_outs: Sequence[KeepOut] = ()
) -> tuple[Placed, ...] | Blocked:
    """All levels, top down: the fewest units in all, then the least shift from the best depths."""
    rows = _Rows(run, keep_outs)
    levels = [_Depths.of(window) for window in windows]
    depths = _as_wished(levels, rows)
    if depths is None and (depths := _shifted(levels, rows)) is None:
        return Blocked("depth")
    found = [rows.at(depth) for depth in depths]
    if all(r.units for r in found):
        return tuple(Placed(depth / 100, r.positions_m) for depth, r in zip(depths, found, strict=True))
    gaps = tuple((level, gap) for level, r in enumerate(found) for gap in r.gaps)
    return Blocked("gap" if gaps else "room", gaps)


@dataclass(frozen=True, slots=True)
class _Depths:
    """A window in whole centimetres."""

    top: int
    best: int
    bottom: int
    least: int
    most: int

    @classmethod
    def of(cls, window: Window) -> "_Depths":
        top, bottom = _cm_up(window.top_m), _cm_down(window.bottom_m)
        best = min(max(round(window.best_m * 100), top), bottom)
        return cls(top, best, bottom, _cm_up(window.below_m[0]), _cm_down(window.below_m[1]))

    def above(self, depth: int, upper: "_Depths") -> slice:
        """Which depths of the upper window are a lawful step above `depth`."""
        return slice(max(0, depth - self.most - upper.top), max(0, depth - self.least - upper.top + 1))


class _Rows:
    """The row at each depth; depths that meet the same services share one."""

    def __init__(self, run: Run, keep_outs: Sequence[KeepOut]) -> None:
        self._run = Mm.of(run)
        self._along = [_band(k) for k in keep_outs if k.at_m is None]
        self._across = sorted(
            (mm_down(k.at_m - k.aside_m), mm_up(k.at_m + k.aside_m), *_band(k))
            for k in keep_outs
            if k.at_m is not None
        )
        self._known: dict[tuple[Piece, ...], Row] = {}

    def barred(self, depth: int) -> bool:
        return any(a < depth < b for a, b in self._along)

    def at(self, depth: int) -> Row:
        return self._round(tuple((x, y) for x, y, a, b in self._across if a < depth < b))

    def bare(self) -> Row:
        return self._round(())

    def costs(self, depths: _Depths) -> list[float]:
        """What each depth of the window costs, top down; infinite where a service lies along the face."""
        changes = {edge for *_, a, b in (*self._along, *self._across) for edge in (a + 1, b)}
        costs: list[float] = []
        own = inf
        for depth in range(depths.top, depths.bottom + 1):
            if depth == depths.top or depth in changes:
                own = inf if self.barred(depth) else _cost(self.at(depth))
            costs.append(own + abs(depth - depths.best))
        return costs

    def _round(self, stretches: tuple[Piece, ...]) -> Row:
        if stretches not in self._known:
            self._known[stretches] = Row(self._run, stretches)
        return self._known[stretches]


def _cost(found: Row) -> int:
    if found.units:
        return found.units * _UNIT
    return (1 + sum(round(gap.over_m * 1000) for gap in found.gaps)) * _OVER


def _as_wished(levels: Sequence[_Depths], rows: _Rows) -> list[int] | None:
    """The best depths, where no move could save a unit."""
    best = [level.best for level in levels]
    steps = zip(best, levels[1:], strict=False)
    if any(level.top > level.bottom for level in levels) or any(map(rows.barred, best)):
        return None
    if not all(level.least <= level.best - above <= level.most for above, level in steps):
        return None
    fewest = rows.bare().units
    return best if all(0 < rows.at(depth).units <= fewest for depth in best) else None


def _shifted(levels: Sequence[_Depths], rows: _Rows) -> list[int] | None:
    """The depths that cost least in all, by going down level by level; None where a level has no depth."""
    totals: list[list[float]] = [rows.costs(levels[0])]
    for upper, lower in pairwise(levels):
        above = totals[-1]
        totals.append(
            [
                cost + min(above[lower.above(depth, upper)], default=inf)
                for depth, cost in enumerate(rows.costs(lower), lower.top)
            ]
        )
    if min(totals[-1], default=inf) == inf:
        return None
    chosen = [levels[-1].top + totals[-1].index(min(totals[-1]))]
    for i in range(len(levels) - 2, -1, -1):
        span = levels[i + 1].above(chosen[-1], levels[i])
        nearest = totals[i].index(min(totals[i][span]), span.start)
        chosen.append(levels[i].top + nearest)
    return chosen[::-1]


def _band(keep_out: KeepOut) -> Piece:
    """The strut depths that a keep-out bars, in centimetres: those strictly between."""
    if keep_out.depth_m is None:
        return _ANY_DEPTH
    return _cm_down(keep_out.depth_m - keep_out.around_m), _cm_up(keep_out.depth_m + keep_out.around_m)


def _cm_down(metres: float) -> int:
    return mm_down(metres) // 10


def _cm_up(metres: float) -> int:
    return -(-mm_up(metres) // 10)
