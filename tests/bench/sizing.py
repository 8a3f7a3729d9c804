"""Sizing against a beam solver, and the layout round services against a mixed-integer solver.

The beam solver (sympy's, as the tests use it) only works the strut loads and the rail's moment of the answer
it is given, which is a small part of what sizing does. The mixed-integer solver (SciPy's milp, HiGHS) works
the very programme of `tests/sizing/test_layout_optimum.py`, and is stopped after a set time.
"""

import random
import time
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from itertools import islice
from statistics import median
from typing import Any

import fleet
from sympy import Float, Symbol
from sympy.physics.continuum_mechanics.beam import Beam
from table import Row
from test_layout_optimum import Unsolved, optimum
from test_outside_libraries import reactions

from bot.config.basis import Basis
from bot.reading.read import read
from knowledge.outcome import Sized
from knowledge.reading import Details
from knowledge.sizing.layout import AxisWindow, KeepOut, place
from knowledge.sizing.row import Run
from knowledge.sizing.size import size

TRENCHES, BEAMS, ROUNDS = 200, 5, 5
SERVICES = (10, 100, 1000)
SOLVABLE = 100  # services; of a thousand the programme alone has two million rows
LONGEST_S = 60.0
RAIL_M = 0.4


def measure() -> list[Row]:
    """Answers a second, then layouts."""
    return [_answers(), *_layouts()]


def _answers() -> Row:
    basis = Basis.load()
    told: list[Details] = [read(text, basis.words).reading for text in islice(fleet.texts(), TRENCHES)]
    found = [(d, size(d, basis.tables)) for d in told]
    # A face on one level is no beam: it would turn about it.
    answers = [(d, one) for d, one in found if isinstance(one, Sized) and len(one.levels) > 1]
    ours, theirs = [], []
    for n in range(ROUNDS):
        ours.append(_seconds(partial(size, d, basis.tables) for d, _ in answers))
        some = answers[n * BEAMS : (n + 1) * BEAMS]
        theirs.append(_seconds(partial(_checked, d.depth_m or 0.0, one) for d, one in some))
    ratios = [b / a for a, b in zip(ours, theirs, strict=True)]
    return Row(
        "sizing: answers against strut loads and rail moment of each by sympy's beams",
        f"{1 / median(ours):,.0f}/s",
        f"{1 / median(theirs):,.1f}/s",
        median(ratios),
        (min(ratios), max(ratios)),
    )


def _checked(depth_m: float, answer: Sized) -> tuple[list[float], float]:
    """The strut loads of a stiff face under the design pressure, and the greatest moment of a rail."""
    struts = [level.depth_m for level in answer.levels]
    loads = reactions(0.0, depth_m, struts, answer.pressure_kpa * answer.spacing_m)
    rail = Beam(RAIL_M, 1, 1)
    force, couple = Symbol("R"), Symbol("M")
    rail.apply_load(force, Float(RAIL_M / 2), -1)
    rail.apply_load(couple, Float(RAIL_M / 2), -2)
    rail.bc_deflection.append((Float(RAIL_M / 2), 0))
    rail.bc_slope.append((Float(RAIL_M / 2), 0))
    rail.apply_load(-max(loads) / RAIL_M, 0, 0)
    rail.solve_for_reaction_loads(force, couple)
    near = {rail.variable: RAIL_M / 2 - 1e-9}
    return loads, abs(float(rail.bending_moment().subs(near)))


def _layouts() -> Iterator[Row]:
    took: dict[int, float] = {}
    for services in SERVICES:
        run, windows, keep_outs = street(random.Random(services), services)
        placed = place(run, windows, keep_outs)
        units = sum(len(level.positions_m) for level in placed) if isinstance(placed, tuple) else None
        took[services] = min(_seconds([partial(place, run, windows, keep_outs)]) for _ in range(ROUNDS))
        theirs, ratio = "not tried: too large", None
        if services <= SOLVABLE:
            theirs, ratio = _solved(run, windows, keep_outs, units, took[services])
        yield Row(
            f"layout round {services:,} services",
            f"{took[services] * 1000:.2f} ms, {units} units",
            theirs,
            ratio,
            aim="at least 100, same optimum" if services <= SOLVABLE else "",
        )
    most, fewer = SERVICES[-1], SERVICES[-2]
    yield Row(
        f"layout: time for {most:,} services over that for {fewer:,}",
        f"{took[most] / took[fewer]:.1f} times for {most // fewer} times as many",
        aim="near linear",
    )


def _solved(
    run: Run, windows: list[AxisWindow], keep_outs: list[KeepOut], units: int | None, ours_s: float
) -> tuple[str, float]:
    begun = time.perf_counter()
    try:
        best = optimum(run, windows, keep_outs, LONGEST_S)
    except Unsolved:
        seconds = time.perf_counter() - begun
        return f"no optimum in {seconds:.0f} s", seconds / ours_s
    seconds = time.perf_counter() - begun
    counted = best and best[0]
    assert counted == units, (best, units)
    return f"{seconds * 1000:,.0f} ms, {counted} units", seconds / ours_s


def street(chance: random.Random, services: int) -> tuple[Run, list[AxisWindow], list[KeepOut]]:
    """A straight trench with a service across it every two metres, and one level that may move a little."""
    length = 2.0 * services
    keep_outs = [
        KeepOut(
            at_m=round(chance.uniform(0, length), 3),
            depth_m=round(chance.uniform(0.2, 1.0), 2),
            aside_m=round(chance.uniform(0.15, 0.3), 3),
            around_m=round(chance.uniform(0.2, 0.35), 2),
        )
        for _ in range(services)
    ]
    run = Run(length_m=length, spacing_m=1.5, start_m=0.75, end_m=0.75, least_m=0.4, margin_m=0.15)
    return run, [AxisWindow(0.4, 0.5, 0.7)], keep_outs


def _seconds(work: Iterable[Callable[[], Any]]) -> float:
    """The mean time of each piece of work."""
    pieces = list(work)
    begun = time.perf_counter()
    for piece in pieces:
        piece()
    return (time.perf_counter() - begun) / len(pieces)
