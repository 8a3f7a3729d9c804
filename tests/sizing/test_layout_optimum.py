"""The layout against the optimum of the same problem as a mixed-integer programme (SciPy's milp, HiGHS).

The programme is written from the statement of the problem alone: positions and depths are continuous,
a binary says on which side of a service each unit stands, whether a level passes above or below it, and
whether a unit is turned. Compared are the least number of units, of those the least number turned, and
whether there is any layout at all: where units stand is not unique. Every layout is also measured with the
tape, directly.
"""

import random
import time
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from knowledge.sizing.layout import AxisWindow, KeepOut, NoLayout, Placed, place
from knowledge.sizing.row import Run, TurnedRail

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

    def least(self, wanted: dict[int, float], within_s: float) -> float | None:
        """The least weighted sum of columns, None where the programme has no answer. Raises Unsolved."""
        terms = [(i, column, factor) for i, row in enumerate(self.rows) for column, factor in row[0].items()]
        rows, columns, factors = zip(*terms, strict=True)
        matrix = coo_array((factors, (rows, columns)), shape=(len(self.rows), len(self.columns)))
        cost = np.zeros(len(self.columns))
        cost[list(wanted)] = list(wanted.values())
        low, high, whole = (np.array(part, dtype=float) for part in zip(*self.columns, strict=True))
        limits = LinearConstraint(matrix.tocsc(), [r[1] for r in self.rows], [r[2] for r in self.rows])
        options = {"time_limit": within_s, "mip_rel_gap": 0}
        found = milp(cost, integrality=whole, bounds=Bounds(low, high), constraints=limits, options=options)
        if found.status == 1:
            raise Unsolved(found.message)
        assert found.status in (0, 2), found.message
        return float(found.fun) if found.status == 0 else None


class Unit(NamedTuple):
    """The columns of one unit: where its centre is, whether it is used, and whether it is turned."""

    at: int
    used: int
    turned: int | None


_UNIT = 100  # a unit outweighs as many turned ones


def optimum(
    run: Run, windows: Sequence[AxisWindow], keep_outs: Sequence[KeepOut], within_s: float = 60
) -> tuple[int, int] | None:
    """The least number of units over all levels and of those the least number turned, or None where no
    layout is lawful. Raises Unsolved."""
    p = Programme()
    wanted: dict[int, float] = {}
    above: int | None = None
    for window in windows:
        z = p.number(window.top_m, window.bottom_m)
        if above is not None:
            p.hold(window.below_m[0], {z: 1, above: -1}, window.below_m[1])
        above = z
        units = _row(p, run, turns=run.turned is not None and window.turned_from_m is not None)
        if window.turned_from_m is not None:
            for unit in units:
                if unit.turned is not None:
                    p.hold(0, {z: 1, unit.turned: -window.turned_from_m}, np.inf)
        wanted |= {unit.used: _UNIT for unit in units}
        wanted |= {unit.turned: 1 for unit in units if unit.turned is not None}
        for k in keep_outs:
            passed = _passed(p, z, k, k.around_m)
            if k.at_m is None:
                p.hold(1, dict.fromkeys(passed, 1), 1)
                continue
            _beside(p, run, units, k.at_m, k.aside_m, passed, turned=False)
            if units[0].turned is not None:
                aside, around = k.turned_m or (k.aside_m, None)
                lower = _passed(p, z, k, around) if around is not None else ()
                _beside(p, run, units, k.at_m, aside, lower, turned=True)
    found = p.least(wanted, within_s)
    return None if found is None else divmod(round(found), _UNIT)


def _passed(p: Programme, z: int, k: KeepOut, around: float) -> tuple[int, int]:
    """Whether the level at `z` passes over or under a service."""
    deep = 10.0  # m, more than any two depths are apart
    over, under = p.choice(), p.choice()
    if k.depth_m is None:
        p.hold(0, {over: 1, under: 1}, 0)
    else:
        p.hold(-np.inf, {z: 1, over: deep}, k.depth_m - around + deep)
        p.hold(k.depth_m + around - deep, {z: 1, under: -deep}, np.inf)
    p.hold(0, {over: 1, under: 1}, 1)
    return over, under


def _row(p: Programme, run: Run, *, turns: bool) -> list[Unit]:
    """Units in order along the trench; one that is not used stands on the one before it."""
    # Of four units within one spacing one could go, whichever of them are turned: with the fewest units no
    # four stand so close.
    fewest = max(run.at_least, int(3 * run.length_m / run.spacing_m) + 3)
    most = min(int((run.length_m - 2 * run.margin_m) / run.least_m + NOISE) + 1, fewest)
    units = [
        Unit(p.number(run.margin_m, run.length_m - run.margin_m), p.choice(), p.choice() if turns else None)
        for _ in range(most)
    ]
    p.hold(-np.inf, {units[0].at: 1}, run.start_m)
    p.hold(run.length_m - run.end_m, {units[-1].at: 1}, np.inf)
    p.hold(run.at_least, {unit.used: 1 for unit in units}, np.inf)
    more = run.turned.least_m - run.least_m if run.turned else 0.0
    for a, b in pairwise(units):
        kinds = {t: -more for t in (a.turned, b.turned) if t is not None}
        p.hold(-more, {b.at: 1, a.at: -1, b.used: -run.least_m - more, **kinds}, np.inf)
        p.hold(0, {b.at: 1, a.at: -1}, np.inf)
        p.hold(-np.inf, {b.at: 1, a.at: -1, b.used: -run.spacing_m}, 0)
        p.hold(0, {a.used: 1, b.used: -1}, 1)
        if a.turned is not None and b.turned is not None:
            p.hold(0, {a.turned: 1, b.turned: 1}, 1)
    for unit in units:
        if unit.turned is not None and run.turned:
            wider = run.turned.margin_m - run.margin_m
            p.hold(0, {unit.used: 1, unit.turned: -1}, 1)
            p.hold(run.margin_m, {unit.at: 1, unit.turned: -wider}, np.inf)
            p.hold(-np.inf, {unit.at: 1, unit.turned: wider}, run.length_m - run.margin_m)
    return units


def _beside(
    p: Programme,
    run: Run,
    units: list[Unit],
    at: float,
    aside: float,
    passed: tuple[int, ...],
    *,
    turned: bool,
) -> None:
    """Every unit in use that is turned, or that is not, stands before a service or beyond it, unless the
    level passes over or under it."""
    a, b = at - aside, at + aside
    far = run.length_m + abs(a) + abs(b)
    sides = [p.choice() for _ in units]
    for unit, beyond in zip(units, sides, strict=True):
        # What is neither used nor of the kind is free of it.
        kind = {} if unit.turned is None else {unit.turned: far if turned else -far}
        off = far * (1 + turned) if unit.turned is not None else 0.0
        used = {unit.used: far} if unit.turned is not None else {}
        before = {unit.at: 1, beyond: -far, **dict.fromkeys(passed, -far), **kind, **used}
        p.hold(-np.inf, before, a + off)
        after = {name: -factor for name, factor in before.items() if name not in (unit.at, beyond)}
        p.hold(b - far - off, {unit.at: 1, beyond: -far, **after}, np.inf)
    for side, next_side in pairwise(sides):
        p.hold(0, {next_side: 1, side: -1}, 1)


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


def congested_near_the_top(r: random.Random) -> Problem:
    """A kit whose rails may be turned, in a street with shallow services: two levels, and for a tenth of the
    trenches one or three."""
    run, _, _ = congested(r)
    rail, wide = round(r.uniform(0.4, 0.7), 2), r.choice([0.2, 0.3])
    half = round(rail / 2, 3)
    run = replace(
        run,
        least_m=wide,
        margin_m=wide / 2,
        length_m=round(max(run.length_m / 1.6, rail), 3),
        turned=TurnedRail(least_m=round(half + wide / 2, 3), margin_m=half),
    )
    best = [round(0.45 + 0.55 * i + r.uniform(0, 0.15), 2) for i in range(r.choice([1, *[2] * 8, 3]))]
    windows = [
        AxisWindow(
            round(z - r.uniform(0, 0.15), 2),
            z,
            round(z + r.uniform(0, 0.25), 2),
            (rail, 1.0),
            # Never on the lowest level.
            turned_from_m=r.choice([*[0.0] * 5, round(z + 0.05, 2), None]) if z < best[-1] else None,
        )
        for z in best
    ]
    keep_outs = []
    for _ in range(r.randint(1, 4)):
        clear = round(r.choice([0.2, 0.25, 0.325]), 3)
        keep_outs.append(
            KeepOut(
                at_m=round(r.uniform(0, run.length_m), 3),
                depth_m=None if r.random() < 0.02 else round(r.uniform(0.05, r.choice([0.3, 0.3, 1.3])), 2),
                aside_m=round(clear + wide / 2, 3),
                around_m=round(clear + half, 3),
                turned_m=(round(clear + half, 3), round(clear + wide / 2, 3)),
            )
        )
    return run, windows, keep_outs


def measured_turned(
    run: Run, windows: Sequence[AxisWindow], keep_outs: Sequence[KeepOut], placed: Sequence[Placed]
) -> None:
    """Every limit of a turned unit, by the tape: it is clear of the services as it lies, there is one where
    an upright unit cannot stand, none beside another and none on a level that says so or lies too high."""
    for window, level in zip(windows, placed, strict=True):
        at, lying = level.positions_m, set(level.turned_m)
        assert lying <= set(at)
        if lying:
            assert window.turned_from_m is not None
            assert level.depth_m >= window.turned_from_m - NOISE
        for x, y in pairwise(at):
            assert not {x, y} <= lying
            if run.turned and {x, y} & lying:
                assert y - x >= run.turned.least_m - NOISE
        for x in lying:
            assert run.turned
            assert run.turned.margin_m - NOISE <= x <= run.length_m - run.turned.margin_m + NOISE
            upright = False
            for k in keep_outs:
                assert k.at_m is not None
                aside, around = k.turned_m or (k.aside_m, np.inf)
                clear = k.depth_m is not None and abs(level.depth_m - k.depth_m) >= around - NOISE
                assert clear or abs(x - k.at_m) >= aside - NOISE
                meets = k.depth_m is None or abs(level.depth_m - k.depth_m) < k.around_m - NOISE
                upright |= meets and abs(x - k.at_m) < k.aside_m
            assert upright, "an upright unit can stand there"


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
                upright = [x for x in at if x not in level.turned_m]
                assert all(abs(x - k.at_m) >= k.aside_m - NOISE for x in upright)
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
        assert best == (sum(len(level.positions_m) for level in found), 0), (run, windows, keep_outs, found)
        tally["levels" if len(windows) > 1 else "one level"] += 1
        tally["moved"] += any(
            abs(level.depth_m - w.best_m) > 0.005 for level, w in zip(found, windows, strict=True)
        )
    print(f"\nlayout: {TRENCHES} congested trenches equal, {tally}")
    print(f"{1e3 * ours_s / TRENCHES:.2f} ms a trench, milp {1e3 * theirs_s / TRENCHES:.1f} ms", end=": ")
    print(f"{theirs_s / ours_s:.0f} times")
    assert min(tally.values()) >= TRENCHES / 20, "the trenches must try every kind of case"


def test_with_turned_units_as_few_as_the_mixed_integer_optimum() -> None:
    r = random.Random(5975)
    tally = {"no layout": 0, "none turned": 0, "turned": 0, "only so": 0, "fewer so": 0}
    for _ in range(TRENCHES):
        run, windows, keep_outs = congested_near_the_top(r)
        found, best = place(run, windows, keep_outs), optimum(run, windows, keep_outs)
        if isinstance(found, NoLayout):
            assert best is None, (run, windows, keep_outs, found)
            tally["no layout"] += 1
            continue
        measured(run, windows, keep_outs, found)
        measured_turned(run, windows, keep_outs, found)
        units = sum(len(level.positions_m) for level in found)
        turned = sum(len(level.turned_m) for level in found)
        assert best == (units, turned), (run, windows, keep_outs, found)
        tally["turned" if turned else "none turned"] += 1
        upright = place(replace(run, turned=None), windows, keep_outs)
        if isinstance(upright, NoLayout):
            tally["only so"] += 1
        else:
            tally["fewer so"] += sum(len(level.positions_m) for level in upright) > units
    print(f"\nlayout with turned units: {TRENCHES} congested trenches equal, {tally}")
    assert min(tally.values()) >= TRENCHES / 100, "the trenches must try every kind of case"
