"""Levels of units and the dig stages between them: the fewest that keep every bite and gap within its limit.

Depths are those of the strut axis. Before level i is set the dig goes to the foot of its rail and a little
working room; after the last, to the full depth.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise
from math import floor, inf

from knowledge.sheet import Formula, Sheet, formula
from knowledge.tables.kit import Kit
from knowledge.tables.sizing_figures import BiteLimits, Practice, RulebookTable
from knowledge.units import Metre, round_down, round_up

_NOISE = 1e-9
_CM = 0.01
_TAPE = (_CM, 0.001)  # levels are given to the centimetre where that breaks no limit


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


@formula(symbol="h_d", source="tributary area; the open bite stands by itself, so half way down it")
def stage_height(d: Metre, z_above: Metre) -> Metre:
    """Height of face that the lowest level set carries while the dig stops at `d` for the next level.

    From half way up to the level above (`z_above`, the negative of its own depth for the first) to half way
    down the bite: the level itself drops out of it.
    """
    return (d - z_above) / 2


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
        """The shallowest trench that `n` levels fit into, set out with a tape."""
        if n == 1:
            return self.slab + self.rail
        first, apart = round_up(self.top, _CM), round_up(self.rail, _CM)
        return round(round_up(first + (n - 1) * apart + self.rail / 2, _CM), 4)

    def reach(self, n: int) -> Metre:
        """The deepest trench that `n` levels hold."""
        deepest = round(self.lowest_first + (n - 1) * self.step + self.gap, 4)
        if n == 1:
            # One level beyond its usual depth only where a second would not fit yet.
            deepest = min(deepest, max(self.one_level_to, self.least(2) - _CM))
        return deepest


@dataclass(frozen=True, slots=True)
class LevelWindow:
    """Where one level may lie."""

    top: Metre
    bottom: Metre


@dataclass(frozen=True, slots=True)
class Plan:
    """Levels top down, the dig stages (one more), where they may lie, and the heights that they carry.

    `height` and `top` at full depth, of any level and of the first; `staged` while the dig stops for a
    level, 0 where it never does. A plan is for its own depth.
    """

    depths: tuple[Metre, ...]
    stages: tuple[Metre, ...]
    windows: tuple[LevelWindow, ...]
    height: Metre
    top: Metre
    staged: Metre


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
def fewest(H: Metre, limits: Limits, most: int, within: Metre) -> int | NoPlan:
    """The fewest levels that hold a trench `H` deep; no more than `most` within a face `within` high.

    Ground that may only be left open in short bites needs more on the way down: what stops there stops
    deeper too.
    """
    if limits.least(1) > H + _NOISE:
        return NoPlan("rail-does-not-fit", {"rail": limits.rail, "face": max(0.0, H - limits.slab)})
    if limits.lowest_first < limits.top - _NOISE:
        bite = limits.top + limits.foot
        return NoPlan("face-cannot-stand", {"stands": max(0.0, limits.bite), "bite": bite})
    n = 1
    while limits.reach(n) + _NOISE < H:
        if n == most and limits.reach(n) + _NOISE < within:
            return NoPlan("too-many-levels", {"depth": H, "reach": limits.reach(n)})
        n += 1
        if limits.step < limits.rail - _NOISE:
            bite = limits.rail + limits.foot
            return NoPlan("face-cannot-stand", {"stands": max(0.0, limits.bite), "bite": bite})
        if limits.least(n) > H + _NOISE:
            return NoPlan(
                "levels-do-not-fit", {"depth": H, "reach": limits.reach(n - 1), "from": limits.least(n)}
            )
    return n


@lru_cache(maxsize=10_000)
def plan(H: Metre, n: int, limits: Limits) -> Plan:
    """`n` levels in a trench `H` deep, as even as their windows allow. They must fit and reach."""
    windows = _windows(H, n, limits)
    exact = tuple(_exact(H, windows, limits))
    # The first level has itself, mirrored in the surface, above it: it carries from the surface down.
    above = (-exact[0], *exact)
    at_last = [tributary_height(b, a) for a, b in zip(above, exact[1:], strict=False)]
    at_last.append(last_height(H, above[-2], exact[-1]))
    depths = _joined(tuple(_taped(exact, windows, limits)), H, limits)
    dug = stages(depths, H, limits)
    return Plan(depths, dug, windows, max(at_last), at_last[0], staged(depths, H, limits))


def _joined(depths: tuple[Metre, ...], H: Metre, limits: Limits) -> tuple[Metre, ...]:
    """The levels above the last a hair lower, where that alone keeps a last bite less than the working room
    from being a stage of its own; as they are where no limit allows it."""
    left = H - stages(depths, H, limits)[-2]
    if len(depths) == 1 or not _NOISE < left < limits.room - _NOISE:
        return depths
    down = round_up(H - limits.foot - limits.step - depths[-2], _CM)
    lower = (*(round(z + down, 4) for z in depths[:-1]), depths[-1])
    return lower if lawful(lower, H, limits) else depths


def staged(depths: tuple[Metre, ...], H: Metre, limits: Limits) -> Metre:
    """The most that a level carries while the dig stops for the next; 0 where there is no next."""
    # Not before the first is set, and not after the last: the dig then goes on to the full depth.
    stops = stages(depths, H, limits)[1:-1]
    return max((stage_height(d, a) for d, a in zip(stops, (-depths[0], *depths), strict=False)), default=0.0)


def stages(depths: tuple[Metre, ...], H: Metre, limits: Limits) -> tuple[Metre, ...]:
    """Dig depths in order; a level is set after each but the last.

    To the centimetre, and never less than the working room wants; two that are nearer than the room are one.
    """
    # The first bite starts at the surface, and is the one that the first level may lie lowest in.
    above = (limits.lowest_first - limits.step, *depths)
    return (
        *(_dug(z, a + limits.step + limits.foot, H, limits) for z, a in zip(depths, above, strict=False)),
        H,
    )


def _dug(z: Metre, lowest: Metre, H: Metre, limits: Limits) -> Metre:
    """How deep the dig goes for a level at `z`, no deeper than `lowest`, the bite from the level above it."""
    foot = stage_depth(z, limits.rail, limits.room, H)
    if H - foot < limits.room + _NOISE and lowest + _NOISE >= H:
        return H
    marked = round_up(foot, _CM)
    return round(marked if marked <= min(lowest, H) + _NOISE else foot, 4)


def heights(depths: tuple[Metre, ...], d: Metre, sheet: Sheet) -> list[Metre]:
    """Height of face that each level set carries when the dig is `d` deep, in a trench as deep."""
    if len(depths) == 1:
        return [
            sheet.given("h_1", d, "m", "one level carries the whole face", "Height that the level carries")
        ]
    middle, last = _height_formulas(len(depths))
    return [
        sheet.work(top_height, depths[0], depths[1]),
        *(sheet.work(of, c, a) for of, a, c in zip(middle, depths, depths[2:], strict=False)),
        sheet.work(last, d, depths[-2], depths[-1]),
    ]


@cache
def _height_formulas(
    n: int,
) -> tuple[tuple[Formula[[Metre, Metre]], ...], Formula[[Metre, Metre, Metre]]]:
    """The heights of the levels below the first, of `n`, each by its own symbols; the lowest by itself."""
    middle = (
        tributary_height.named(
            symbol=f"h_{i}",
            said=f"Height that level {i} carries",
            z_below=f"z_{i + 1}",
            z_above=f"z_{i - 1}",
        )
        for i in range(2, n)
    )
    last = last_height.named(
        symbol=f"h_{n}", said=f"Height that level {n} carries", d="H", z_above=f"z_{n - 1}", z=f"z_{n}"
    )
    return tuple(middle), last


def staged_bound(windows: tuple[LevelWindow, ...], H: Metre, limits: Limits) -> Metre:
    """The most that a level may come to carry at a stage, wherever in their windows the levels lie."""
    above = (-windows[0].bottom, *(w.top for w in windows))
    dug = (stage_depth(w.bottom, limits.rail, limits.room, H) for w in windows[1:])
    return max((stage_height(d, a) for d, a in zip(dug, above, strict=False)), default=0.0)


def final_bounds(windows: tuple[LevelWindow, ...], H: Metre) -> list[Metre]:
    """The most that each level may come to carry at full depth, wherever in their windows the levels lie."""
    if len(windows) == 1:
        return [H]
    # As if the first level were mirrored in the surface, and the last in the bottom.
    above = (-windows[0].bottom, *(w.top for w in windows[:-1]))
    below = (*(w.bottom for w in windows[1:]), 2 * H - windows[-1].top)
    return [tributary_height(b, a) for b, a in zip(below, above, strict=True)]


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
    """Levels an even share apart about the middle of the face, as far as step and windows allow."""
    apart = min(H / len(windows), limits.step)
    above = -inf
    for i, window in enumerate(windows):
        even = H / 2 + (i - (len(windows) - 1) / 2) * apart
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
