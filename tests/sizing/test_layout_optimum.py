"""The layout against the optimum of the same problem as a mixed-integer programme (SciPy's milp, HiGHS).

The programme is written from the statement of the problem alone: positions and depths are continuous,
a binary says on which side of a service each unit stands and whether a level passes above or below it.
Compared are the least number of units, and whether there is any layout at all: where units stand is not
unique. Every layout is also measured with the tape, directly.
"""

import random
import time
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from knowledge.sizing.layout import AxisWindow, KeepOut, NoLayout, Placed, place
from knowledge.sizing.row import Run

Problem = tuple[Run, list[AxisWindow], list[KeepOut]]
TRENCHES = 1000
NOISE = 1e-9


class Unsolved(Exception):  # noqa: N818 - it says what is
    """The solver found no proven optimum in the time it was given."""


class Programme:
    """Rows and columns of a mixed-integer programme, gathered one by one."""

    def __init__(self) -> None:
        self.columns: list[tuple[float, float, bool]] = []
        self.rows: list[tuple[dict[int, float], float, float]] = []

    def number(self, low: float, high: float) -> int:
        self.columns.append((low, high, False))
        return len(self.columns) - 1

    def choice(self) -> int:
        self.columns.append((0, 1, True))
        return len(self.columns) - 1

    def hold(self, low: float, terms: dict[int, float], high: float) -> None:
        self.rows.append((terms, low, high))

    def least(self, wanted: Sequence[int], within_s: float) -> float | None:
        """The least sum of the columns wanted, None where the programme has no answer. Raises Unsolved."""
        terms = [(i, column, factor) for i, row in enumerate(self.rows) for column, factor in row[0].items()]
        rows, columns, factors = zip(*terms, strict=True)
        matrix = coo_array((factors, (rows, columns)), shape=(len(self.rows), len(self.columns)))
        cost = np.zeros(len(self.columns))
        cost[list(wanted)] = 1
        low, high, whole = (np.array(part, dtype=float) for part in zip(*self.columns, strict=True))
        limits = LinearConstraint(matrix.tocsc(), [r[1] for r in self.rows], [r[2] for r in self.rows])
        options = {"time_limit": within_s}
        found = milp(cost, integrality=whole, bounds=Bounds(low, high), constraints=limits, options=options)
        if found.status == 1:
            raise Unsolved(found.message)
        assert found.status in (0, 2), found.message
        return float(found.fun) if found.status == 0 else None


def optimum(
    run: Run, windows: Sequence[AxisWindow], keep_outs: Sequence[KeepOut], within_s: float = 60
) -> int | None:
    """The least number of units over all levels, or None where no layout is lawful. Raises Unsolved."""
    p = Programme()
    used: list[int] = []
    deep = 10.0  # m, more than any two depths are apart
    above: int | None = None
    for window in windows:
        z = p.number(window.top_m, window.bottom_m)
        if above is not None:
            p.hold(window.below_m[0], {z: 1, above: -1}, window.below_m[1])
        above = z
        units = _row(p, run)
        used += [count for _, count in units]
        for k in keep_outs:
            p_over, p_under = p.choice(), p.choice()
            if k.depth_m is None:
                p.hold(0, {p_over: 1, p_under: 1}, 0)
            else:
                p.hold(-np.inf, {z: 1, p_over: deep}, k.depth_m - k.around_m + deep)
                p.hold(k.depth_m + k.around_m - deep, {z: 1, p_under: -deep}, np.inf)
            p.hold(1 if k.at_m is None else 0, {p_over: 1, p_under: 1}, 1)
            if k.at_m is not None:
                _beside(p, run, units, k.at_m - k.aside_m, k.at_m + k.aside_m, (p_over, p_under))
    found = p.least(used, within_s)
    return None if found is None else round(found)


def _row(p: Programme, run: Run) -> list[tuple[int, int]]:
    """Units in order along the trench; one that is not used stands on the one before it."""
    most = int((run.length_m - 2 * run.margin_m) / run.least_m + NOISE) + 1
    units = [(p.number(run.margin_m, run.length_m - run.margin_m), p.choice()) for _ in range(most)]
    p.hold(-np.inf, {units[0][0]: 1}, run.start_m)
    p.hold(run.length_m - run.end_m, {units[-1][0]: 1}, np.inf)
    p.hold(run.at_least, {count: 1 for _, count in units}, np.inf)
    for (x, _), (y, count) in pairwise(units):
        p.hold(0, {y: 1, x: -1, count: -run.least_m}, np.inf)
        p.hold(-np.inf, {y: 1, x: -1, count: -run.spacing_m}, 0)
    for (_, count), (_, after) in pairwise(units):
        p.hold(0, {count: 1, after: -1}, 1)
    return units


def _beside(
    p: Programme, run: Run, units: list[tuple[int, int]], a: float, b: float, passed: tuple[int, int]
) -> None:
    """Every unit stands before a or beyond b, unless the level passes over or under the service."""
    far = run.length_m + abs(a) + abs(b)
    free = dict.fromkeys(passed, -far)
    sides = [p.choice() for _ in units]
    for (x, _), beyond in zip(units, sides, strict=True):
        p.hold(-np.inf, {x: 1, beyond: -far, **free}, a)
        p.hold(b - far, {x: 1, beyond: -far, **dict.fromkeys(passed, far)}, np.inf)
    for side, after in pairwise(sides):
        p.hold(0, {after: 1, side: -1}, 1)


def congested(r: random.Random) -> Problem:
    """A short street trench with many services, in whole millimetres along and centimetres down."""

    def mm(low: float, high: float) -> float:
        return round(r.uniform(low, high), 3)

    def cm(low: float, high: float) -> float:
        return round(r.uniform(low, high), 2)

    spacing = mm(0.9, 2.0)
    open_end = r.random() < 0.3
    run = Run(
        length_m=mm(1.5, 10.0),
        spacing_m=spacing,
        start_m=round(spacing / 2, 3),
        end_m=0.3 if open_end else round(spacing / 2, 3),
        least_m=mm(0.35, 0.8),
        margin_m=0.15,
        at_least=3 if r.random() < 0.1 else 1,
    )
    first = cm(0.35, 0.7)
    windows = [AxisWindow(cm(0.2, first), first, cm(first, 0.9))]
    if r.random() < 0.6:
        second = first + cm(0.3, 0.8)
        windows.append(AxisWindow(second - cm(0, 0.3), second, second + cm(0, 0.3), (0.45, 1.0)))
    keep_outs = [
        KeepOut(
            at_m=None if r.random() < 0.1 else mm(0, run.length_m),
            depth_m=cm(0.1, 1.6),
            aside_m=mm(0.15, 0.4),
            around_m=cm(0.1, 0.5),
        )
        for _ in range(r.randint(3, 10))
    ]
    if r.random() < 0.2:
        keep_outs.append(KeepOut(mm(0, run.length_m), None, mm(0.15, 0.4), 0.4))
    return run, windows, keep_outs


def measured(
    run: Run, windows: Sequence[AxisWindow], keep_outs: Sequence[KeepOut], placed: Sequence[Placed]
) -> None:
    """Every limit of the problem, by the tape."""
    assert len(placed) == len(windows)
    for window, level in zip(windows, placed, strict=True):
        assert window.top_m - NOISE <= level.depth_m <= window.bottom_m + NOISE
        at = level.positions_m
        assert len(at) >= run.at_least
        assert all(round(x, 3) == x for x in at)
        assert run.margin_m - NOISE <= at[0] <= run.start_m + NOISE
        assert run.margin_m - NOISE <= run.length_m - at[-1] <= run.end_m + NOISE
        assert all(run.least_m - NOISE <= y - x <= run.spacing_m + NOISE for x, y in pairwise(at))
        for k in keep_outs:
            meets = k.depth_m is None or abs(level.depth_m - k.depth_m) < k.around_m - NOISE
            if meets:
                assert k.at_m is not None
                assert all(abs(x - k.at_m) >= k.aside_m - NOISE for x in at)
    for (upper, _), (lower, window) in pairwise(zip(placed, windows, strict=True)):
        assert window.below_m[0] - NOISE <= lower.depth_m - upper.depth_m <= window.below_m[1] + NOISE


def test_as_few_units_as_the_mixed_integer_optimum() -> None:
    r = random.Random(8002)
    problems = [congested(r) for _ in range(TRENCHES)]
    start = time.process_time()
    ours = [place(*problem) for problem in problems]
    middle = time.process_time()
    theirs = [optimum(*problem) for problem in problems]
    ours_s, theirs_s = middle - start, time.process_time() - middle

    tally = {"one level": 0, "levels": 0, "moved": 0, "no layout": 0}
    for (run, windows, keep_outs), found, best in zip(problems, ours, theirs, strict=True):
        if isinstance(found, NoLayout):
            assert best is None, (run, windows, keep_outs, found)
            tally["no layout"] += 1
            continue
        measured(run, windows, keep_outs, found)
        assert sum(len(level.positions_m) for level in found) == best, (run, windows, keep_outs, found)
        tally["levels" if len(windows) > 1 else "one level"] += 1
        tally["moved"] += any(
            abs(level.depth_m - w.best_m) > 0.005 for level, w in zip(found, windows, strict=True)
        )
    print(f"\nlayout: {TRENCHES} congested trenches equal, {tally}")
    print(f"{1e3 * ours_s / TRENCHES:.2f} ms a trench, milp {1e3 * theirs_s / TRENCHES:.1f} ms", end=": ")
    print(f"{theirs_s / ours_s:.0f} times")
    assert min(tally.values()) >= TRENCHES / 20, "the trenches must try every kind of case"
