"""One row of units along the trench, round what stands in the way, with as few units as will do.

In a row no gap between neighbours is wider than the spacing, the first and last unit stand within their
distance of an end, and no unit stands in a keep-out. Where no upright rail can stand for a keep-out, a unit
may stand turned, its rails level, if the row allows it and it is clear of what bars a level rail; of two
neighbours only one is turned.

Places are reached from the start end in waves: where one unit can stand, where a second can, and so on; and
within a wave by how many of the units so far are turned. Each place belongs to the first wave that gets
there, so the work is near linear in the keep-outs, and the wave that first gets to the far end has the
fewest units, and of those the fewest turned.

All work is in whole millimetres with limits rounded to the safe side: an answer can be set out with a tape
and breaks no limit by rounding. Reaching as far as possible each time would be simpler, but it is not
always best: a unit may stand so far on that the next free place is nearer than the least distance.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import NamedTuple

from knowledge.units import Metre

Stretch = tuple[int, int]
Pieces = list[Stretch]

_NOISE = 1e-6
_TAPE_MM = 50  # units stand on these marks of the tape where nothing is lost by it


def mm_down(metres: float) -> int:
    return floor(metres * 1000 + _NOISE)


def mm_up(metres: float) -> int:
    return ceil(metres * 1000 - _NOISE)


@dataclass(frozen=True, slots=True)
class TurnedRail:
    """What a rail that lies level wants along the trench: `least_m` from its centre to that of an upright
    neighbour, and `margin_m` to an end (half its length)."""

    least_m: Metre
    margin_m: Metre


@dataclass(frozen=True, slots=True)
class Run:
    """What holds for every row of one trench.

    Centre to centre, `spacing_m` at most and `least_m` at least; the first unit at most `start_m` and the
    last at most `end_m` from its end of the trench; no centre nearer than `margin_m` to an end (half a
    rail); no fewer than `at_least` units. `turned`: what a unit with its rails level wants; None: none may
    be. Raises ValueError when `least_m` exceeds `spacing_m`, or a rail is shorter than it is wide.
    """

    length_m: Metre
    spacing_m: Metre
    start_m: Metre
    end_m: Metre
    least_m: Metre
    margin_m: Metre = 0.0
    at_least: int = 1
    turned: TurnedRail | None = None

    def __post_init__(self) -> None:
        if self.least_m > self.spacing_m:
            raise ValueError(f"units {self.least_m} m apart at least cannot be {self.spacing_m} m at most")
        if self.turned and (self.turned.least_m < self.least_m or self.turned.margin_m < self.margin_m):
            raise ValueError("a turned rail is longer along the trench than an upright one")


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch that no unit can close: from a unit or an end to the next, and the most it may be.

    The whole length with a limit of 0: no unit can stand anywhere.
    """

    from_m: Metre
    to_m: Metre
    limit_m: Metre

    @property
    def wide_m(self) -> Metre:
        return round(self.to_m - self.from_m, 3)

    @property
    def over_m(self) -> Metre:
        """How much too wide."""
        return round(self.wide_m - self.limit_m, 3)


@dataclass(frozen=True, slots=True)
class RunInMm:
    """A run in whole millimetres, each limit rounded to its safe side."""

    length: int
    spacing: int
    start: int
    end: int
    least: int
    margin: int
    at_least: int
    turned_least: int
    turned_margin: int | None  # None: no unit may be turned

    @classmethod
    def of(cls, run: Run) -> "RunInMm":
        return cls(
            length=mm_up(run.length_m),
            spacing=mm_down(run.spacing_m),
            start=mm_down(run.start_m),
            end=mm_down(run.end_m),
            least=mm_up(run.least_m),
            margin=mm_up(run.margin_m),
            at_least=run.at_least,
            turned_least=mm_up(run.turned.least_m) if run.turned else 0,
            turned_margin=mm_up(run.turned.margin_m) if run.turned else None,
        )


class Places(NamedTuple):
    """Where a unit can stand upright, and where only turned: closed pieces, sorted."""

    upright: Pieces
    turned: Pieces

    @property
    def last(self) -> int:
        """The farthest place, -1 where there is none."""
        return max(self.upright[-1][1] if self.upright else -1, self.turned[-1][1] if self.turned else -1)


Wave = list[Places]
"""Places that a number of units get to, by how many of those are turned."""


class UnitRow:
    """The fewest units in a row, evenly spread, with no centre inside `forbidden`: sorted stretches in
    millimetres whose edges are free. `turned`: the stretches that are barred to a unit with its rails level,
    None where none may be. `units` is their number, or 0 where no row is lawful; `level` how many of them
    are turned."""

    __slots__ = ("_free", "_run", "_waves", "level", "units")

    def __init__(
        self, run: RunInMm, forbidden: Sequence[Stretch], turned: Sequence[Stretch] | None = None
    ) -> None:
        self._run = run
        upright = _free(run.length, run.margin, forbidden)
        lying: Pieces = []
        if turned is not None and run.turned_margin is not None:
            lying = _without(_free(run.length, run.turned_margin, turned), upright)
        self._free = Places(upright, lying)
        self._waves = _waves(run, self._free, run.at_least, (0, run.start))
        there = _gets_there(run, self._waves[-1])
        self.units = 0 if there is None else len(self._waves)
        self.level = there or 0

    @property
    def positions_m(self) -> tuple[Metre, ...]:
        """Centres from the start end."""
        return tuple(x / 1000 for x, _ in self._even())

    @property
    def turned_m(self) -> tuple[Metre, ...]:
        """Those of the centres that are of turned units."""
        return tuple(x / 1000 for x, turned in self._even() if turned)

    def _even(self) -> list[tuple[int, bool]]:
        return _even(self._run, self._waves, self.level) if self.units else []

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """What stays open. Neither units nor gaps: fewer than `at_least` units fit into the trench."""
        if self.units:
            return ()
        return tuple(Gap(a / 1000, b / 1000, limit / 1000) for a, b, limit in _gaps(self._run, self._free))


def row(run: Run, forbidden: Iterable[tuple[Metre, Metre]] = ()) -> UnitRow:
    """One row of upright units of a run round `forbidden`, in metres."""
    return UnitRow(RunInMm.of(run), sorted((mm_down(a), mm_up(b)) for a, b in forbidden))


def _free(length: int, margin: int, forbidden: Sequence[Stretch]) -> Pieces:
    """The closed pieces of the trench outside the open intervals `forbidden` (sorted)."""
    pieces: Pieces = []
    at, end = margin, length - margin
    for a, b in forbidden:
        if a >= end:
            break
        if b > at and a < b:
            if a >= at:
                pieces.append((at, a))
            at = b
    if at <= end:
        pieces.append((at, end))
    return pieces


def _without(pieces: Pieces, others: Pieces) -> Pieces:
    """The pieces without the places of others; both sorted."""
    left: Pieces = []
    for a, b in pieces:
        for c, d in others:
            if d < a:
                continue
            if c > b:
                break
            if c > a:
                left.append((a, c - 1))
            a = d + 1
        if a <= b:
            left.append((a, b))
    return left


def _reach(free: Pieces, wave: Pieces, least: int, most: int) -> Pieces:
    """Take out of `free` every place from `least` to `most` beyond some place of the wave."""
    taken: Pieces = []
    for a, b in wave:
        low, high = a + least, b + most
        if low > high:
            continue
        first = bisect_right(free, (low, low))
        if first and free[first - 1][1] >= low:
            first -= 1
        last, rest = first, []
        while last < len(free) and free[last][0] <= high:
            c, d = free[last]
            if c < low:
                rest.append((c, low - 1))
                c = low
            if d > high:
                rest.append((high + 1, d))
                d = high
            if taken and taken[-1][1] + 1 == c:
                taken[-1] = (taken[-1][0], d)
            else:
                taken.append((c, d))
            last += 1
        free[first:last] = rest
    return taken


def _waves(run: RunInMm, free: Places, at_least: int, first: Stretch) -> list[Wave]:
    """Where the first, second ... unit can stand; the last wave gets to the far end, or is empty.

    The first unit stands within `first`. A place is given to its earliest wave only, and in that to the
    fewest turned, except that the first `at_least` waves are counted whole: that many units may use places
    which fewer would reach.
    """
    left = Places(list(free.upright), list(free.turned))
    start, wide = [(first[0], first[0])], first[1] - first[0]
    wave = _trimmed(
        [
            Places(_reach(left.upright, start, 0, wide), []),
            Places([], _reach(left.turned, start, 0, wide)),
        ]
    )
    waves = [wave]
    while wave and (len(waves) < at_least or _gets_there(run, wave) is None):
        if len(waves) < at_least:
            left = Places(list(free.upright), list(free.turned))
        wave = _next(run, left, wave)
        waves.append(wave)
    return waves


def _next(run: RunInMm, left: Places, wave: Wave) -> Wave:
    """The places that one more unit gets to: upright after either kind, turned after an upright one only."""
    apart, found = run.turned_least, []
    for turned, here in enumerate([*wave, Places([], [])]):
        upright = _reach(left.upright, here.upright, run.least, run.spacing)
        upright += _reach(left.upright, here.turned, apart, run.spacing)
        before = wave[turned - 1].upright if turned else []
        found.append(Places(sorted(upright), _reach(left.turned, before, apart, run.spacing)))
    return _trimmed(found)


def _trimmed(wave: Wave) -> Wave:
    """Without the numbers of turned units, at its end, that get nowhere."""
    while wave and wave[-1].last < 0:
        wave.pop()
    return wave


def _gets_there(run: RunInMm, wave: Wave) -> int | None:
    """How many turned units it takes at least for the wave to be near enough to the far end."""
    return next((n for n, here in enumerate(wave) if here.last >= max(0, run.length - run.end)), None)


def _even(run: RunInMm, waves: list[Wave], turned: int) -> list[tuple[int, bool]]:
    """One place of each wave, from the far end back, each as near as may be to an even share of the rest;
    and whether the unit there is turned.

    Every place of a wave has a place of the wave before at a lawful distance, so none gets stuck.
    """
    at: list[tuple[int, bool]] = []
    after, share, lying = run.length, run.end, False
    least, least_turned, most = 0, 0, run.end
    for before in range(len(waves) - 1, -1, -1):
        here = waves[before][turned]
        shares = run.start + before * run.spacing + share
        wanted = after - after * share / shares if shares else 0
        mark = round(wanted / _TAPE_MM) * _TAPE_MM
        spots = [(max(a, after - most), min(b, after - least), False) for a, b in here.upright]
        if not lying:
            spots += [(max(a, after - most), min(b, after - least_turned), True) for a, b in here.turned]
        places = [(min(max(mark, a), b), level) for a, b, level in spots if a <= b]
        after, lying = min(places, key=lambda place: abs(place[0] - mark))
        at.append((after, lying))
        turned -= lying
        share = most = run.spacing
        least_turned = run.turned_least
        least = run.turned_least if lying else run.least
    return at[::-1]


def _gaps(run: RunInMm, free: Places) -> list[tuple[int, int, int]]:
    """From, to and limit of each gap that stays open, as narrow as it can be after the one before."""
    starts = [pieces[0][0] for pieces in free if pieces]
    if not starts:
        return [(0, run.length, 0)]
    gaps: list[tuple[int, int, int]] = []
    far, limit, onward = 0, run.start, min(starts)
    waves = _waves(run, free, 1, (0, run.start))
    while not waves[-1]:
        if waves[0]:
            limit = run.spacing
            if (narrowest := _narrowest(run, free, waves)) is None:
                return [*gaps, (max(here.last for wave in waves for here in wave), run.length, run.end)]
            far, onward = narrowest
        gaps.append((far, onward, limit))
        waves = _waves(run, free, 1, (onward, onward))
    return gaps


def _narrowest(run: RunInMm, free: Places, waves: list[Wave]) -> tuple[int, int] | None:
    """From the farthest unit of either kind on to the nearest place beyond its reach, the less open."""
    reached = [here for wave in waves for here in wave]
    upright = max((here.upright[-1][1] for here in reached if here.upright), default=None)
    turned = max((here.turned[-1][1] for here in reached if here.turned), default=None)
    found: list[tuple[int, int]] = []
    for far, pieces in ((upright, free.upright), (upright, free.turned), (turned, free.upright)):
        if far is not None:
            beyond = (max(a, far + run.spacing + 1) for a, b in pieces if b > far + run.spacing)
            found += [(far, onward) for onward in beyond][:1]
    return min(found, key=lambda gap: gap[1] - gap[0], default=None)
