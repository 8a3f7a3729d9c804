"""Levels of units and the dig stages between them: the fewest that keep every bite and gap within its limit.

Depths are those of the strut axis. Before level i is set the dig goes to the foot of its rail and a little
working room; after the last, to the full depth.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import floor, inf

from knowledge.sheet import Sheet, formula
from knowledge.tables.kit import Kit
from knowledge.tables.sizing_figures import BiteLimits, Practice, RulebookTable
from knowledge.units import Metre, round_down, round_up

_NOISE = 1e-9
_TAPE = (0.01, 0.001)  # levels are given to the centimetre where that breaks no limit


@formula(symbol="d", source="common practice: dig to the foot of the rail and room to work")
def stage_depth(z: Metre, l_r: Metre, r: Metre, H: Metre) -> Metre:
    """Depth dug before a level at `z` is set; never more than the trench."""
    return min(H, z + l_r / 2 + r)


@formula(symbol="h", source="tributary area: half way to each neighbour")
def tributary_height(z_below: Metre, z_above: Metre) -> Metre:
    """Height of face that a level carries, between two levels."""
    return (z_below - z_above) / 2


@formula(symbol="h_1", source="tributary area: ground surface to half way below")
def top_height(z_1: Metre, z_2: Metre) -> Metre:
    """Height of face that the top level carries."""
    return (z_1 + z_2) / 2


@formula(symbol="h_n", source="tributary area: half way above to the bottom of the dig")
def last_height(d: Metre, z_above: Metre, z: Metre) -> Metre:
    """Height of face that the lowest level set carries, at a dig `d` deep."""
    return d - (z_above + z) / 2


@dataclass(frozen=True, slots=True)
class Limits:
    """What holds for the levels of one trench, in metres, to the strut axis."""

    rail: Metre
    room: Metre
    slab: Metre
    bite: Metre  # the least that the ground may be left open at a time
    top: Metre  # the first level lies no higher: its rail is below the slab
    lowest_first: Metre  # and no deeper
    step: Metre  # the most from one level to the next
    gap: Metre  # the most under the lowest
    one_level_to: Metre

    @property
    def foot(self) -> Metre:
        """How far the dig for a level goes below its strut."""
        return self.rail / 2 + self.room

    def least(self, n: int) -> Metre:
        """The shallowest trench that `n` levels fit into."""
        return self.slab + n * self.rail

    def reach(self, n: int) -> Metre:
        """The deepest trench that `n` levels hold."""
        deepest = self.lowest_first + (n - 1) * self.step + self.gap
        if n == 1:
            # One level beyond its usual depth only where a second would not fit yet.
            deepest = min(deepest, max(self.one_level_to, self.least(2)))
        return deepest

    def carried(self, n: int) -> Metre:
        """The greatest height that one level carries on the way down to where `n` levels no longer hold."""
        if n == 1:
            return self.reach(1)
        on_first = self.lowest_first + self.step + self.foot
        return max(on_first, 1.5 * self.step + self.foot, self.gap + self.step / 2)


@dataclass(frozen=True, slots=True)
class LevelWindow:
    """Where one level may lie."""

    top: Metre
    bottom: Metre


@dataclass(frozen=True, slots=True)
class Plan:
    """Levels top down, the dig stages (one more), and the greatest height any level carries at any time."""

    depths: tuple[Metre, ...]
    stages: tuple[Metre, ...]
    windows: tuple[LevelWindow, ...]
    carried: Metre


@dataclass(frozen=True, slots=True)
class NoPlan:
    """No lawful levels: which refusal, and its figures in metres."""

    rule: str
    numbers: dict[str, Metre]


def limits(
    kit: Kit, book: RulebookTable, practice: Practice, bites: BiteLimits, stands: Metre, slab: Metre
) -> Limits:
    """Limits for a kit under a rulebook, in ground whose bare face may be `stands` high."""
    open_to, rail = book.stages[bites], kit.rail.length_m
    foot = rail / 2 + practice.working_room.si
    first, later = min(open_to.first.si, stands), min(open_to.later.si, stands)
    gap = open_to.gap.si + (rail / 2 if open_to.gap_from == "rail" else 0.0)
    return Limits(
        rail=rail,
        room=practice.working_room.si,
        slab=slab,
        bite=min(first, later),
        top=slab + rail / 2,
        lowest_first=min(book.first_level.si, first - foot),
        step=min(book.apart.si if book.apart else inf, later - foot),
        gap=min(gap, later),
        one_level_to=book.one_level_to.si if book.one_level_to else inf,
    )


@lru_cache(maxsize=10_000)
def plan(H: Metre, limits: Limits, at_least: int = 1) -> Plan | NoPlan:
    """The fewest levels, but `at_least` so many, for a trench `H` deep, as even as their windows allow.

    Trenches are dug to whole centimetres, and every answer tries some of them: what was worked is kept.
    """
    count = _count(H, limits, at_least)
    if isinstance(count, NoPlan):
        return count
    windows = _windows(H, count, limits)
    exact = tuple(_exact(H, windows, limits))
    carried = max(heights_met(exact, H, limits))
    if count > 1:
        # On the way down the trench is as deep as fewer levels hold: they must have carried it there.
        carried = max(carried, limits.carried(1), limits.carried(count - 1))
    depths = tuple(_taped(exact, windows, limits))
    return Plan(depths, stages(depths, H, limits), windows, carried)


def stages(depths: tuple[Metre, ...], H: Metre, limits: Limits) -> tuple[Metre, ...]:
    """Dig depths in order; a level is set after each but the last."""
    return (*(min(H, round(stage_depth(z, limits.rail, limits.room, H), 4)) for z in depths), H)


def heights(depths: tuple[Metre, ...], d: Metre, sheet: Sheet) -> list[Metre]:
    """Height of face that each level set carries when the dig is `d` deep."""
    if len(depths) == 1:
        return [sheet.given("h_1", d, "m", "one level carries the whole face")]
    middle = (sheet.work(tributary_height, c, a) for a, c in zip(depths, depths[2:], strict=False))
    return [
        sheet.work(top_height, depths[0], depths[1]),
        *middle,
        sheet.work(last_height, d, depths[-2], depths[-1]),
    ]


def heights_met(depths: tuple[Metre, ...], H: Metre, limits: Limits) -> Iterator[Metre]:
    """Heights carried at full depth and, by the lowest level set, at each stage of the dig."""
    # The first level has itself, mirrored in the surface, above it: it carries from the surface down.
    above = (-depths[0], *depths)
    for i in range(len(depths)):
        below = H if i + 1 == len(depths) else stage_depth(depths[i + 1], limits.rail, limits.room, H)
        yield last_height(below, above[i], depths[i])
    for a, b in zip(above, depths[1:], strict=False):
        yield tributary_height(b, a)


def heights_bound(windows: tuple[LevelWindow, ...], H: Metre, limits: Limits) -> Metre:
    """The most that any level may come to carry wherever in their windows the levels lie."""
    above = (-windows[0].top, *(w.top for w in windows))
    below = (*(stage_depth(w.bottom, limits.rail, limits.room, H) for w in windows[1:]), H)
    return max(last_height(d, a, w.top) for d, a, w in zip(below, above, windows, strict=False))


def final_bound(windows: tuple[LevelWindow, ...], H: Metre) -> Metre:
    """The most that any level may come to carry at full depth, wherever in their windows the levels lie."""
    if len(windows) == 1:
        return H
    # As if the first level were mirrored in the surface, and the last in the bottom.
    above = (-windows[0].bottom, *(w.top for w in windows[:-1]))
    below = (*(w.bottom for w in windows[1:]), 2 * H - windows[-1].top)
    return max(tributary_height(b, a) for b, a in zip(below, above, strict=True))


def _count(H: Metre, limits: Limits, at_least: int) -> int | NoPlan:
    if limits.least(1) > H + _NOISE:
        return NoPlan("rail-does-not-fit", {"rail": limits.rail, "face": max(0.0, H - limits.slab)})
    if limits.lowest_first < limits.top - _NOISE:
        bite = limits.top + limits.foot
        return NoPlan("face-cannot-stand", {"stands": max(0.0, limits.bite), "bite": bite})
    n = 1
    while limits.reach(n) + _NOISE < H or n < at_least:
        reached, n = min(limits.reach(n), H), n + 1
        if limits.step < limits.rail - _NOISE:
            bite = limits.rail + limits.foot
            return NoPlan("face-cannot-stand", {"stands": max(0.0, limits.bite), "bite": bite})
        if limits.least(n) > reached + _NOISE:
            return NoPlan("levels-do-not-fit", {"depth": H, "reach": reached})
    return n


def _windows(H: Metre, n: int, limits: Limits) -> tuple[LevelWindow, ...]:
    """Where each level may lie so that the others can lie lawfully too."""
    top = [limits.top + i * limits.rail for i in range(n)]
    bottom = [limits.lowest_first + i * limits.step for i in range(n)]
    top[-1] = max(top[-1], H - limits.gap)
    bottom[-1] = min(bottom[-1], H - limits.rail / 2)
    for i in range(n - 2, -1, -1):
        top[i] = max(top[i], top[i + 1] - limits.step)
        bottom[i] = min(bottom[i], bottom[i + 1] - limits.rail)
    return tuple(LevelWindow(a, b) for a, b in zip(top, bottom, strict=True))


def _exact(H: Metre, windows: tuple[LevelWindow, ...], limits: Limits) -> Iterator[Metre]:
    """Each level as near to the middle of its even share as its window and the level above allow."""
    above = -inf
    for i, window in enumerate(windows):
        even = (i + 0.5) * H / len(windows)
        top, bottom = max(window.top, above + limits.rail), min(window.bottom, above + limits.step)
        above = min(max(even, top), bottom) if i else min(max(even, window.top), window.bottom)
        yield above


def _taped(exact: tuple[Metre, ...], windows: tuple[LevelWindow, ...], limits: Limits) -> Iterator[Metre]:
    """The levels as set out with a tape, within the limits."""
    above = -inf
    for i, (z, window) in enumerate(zip(exact, windows, strict=True)):
        top, bottom = window.top, window.bottom
        if i:
            top, bottom = max(top, above + limits.rail), min(bottom, above + limits.step)
        above = _on_tape(z, top, bottom)
        yield above


def _on_tape(z: Metre, top: Metre, bottom: Metre) -> Metre:
    """The mark nearest to `z` between `top` and `bottom`: a centimetre, else a millimetre, else half way."""
    for mark in _TAPE:
        low, high = round_up(top, mark), round_down(bottom, mark)
        if low <= high + _NOISE:
            # A hair up, so that the noise of feet and inches does not tip a tie either way.
            near = floor(z / mark + 0.5 + _NOISE) * mark
            return round(min(max(near, low), high), 4)
    return (top + bottom) / 2


def lawful(depths: tuple[Metre, ...], H: Metre, limits: Limits) -> bool:
    """Whether levels hold a trench `H` deep within every limit."""
    steps = [b - a for a, b in pairwise(depths)]
    return (
        limits.top <= depths[0] + _NOISE
        and depths[0] <= limits.lowest_first + _NOISE
        and all(limits.rail - _NOISE <= step <= limits.step + _NOISE for step in steps)
        and depths[-1] + limits.rail / 2 <= H + _NOISE
        and H - depths[-1] <= limits.gap + _NOISE
        and limits.reach(len(depths)) + _NOISE >= H
    )
