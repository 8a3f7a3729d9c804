"""One row of units along the trench, round what stands in the way, with as few units as will do.

In a row no gap between neighbours is wider than the spacing, the first and last unit stand within their
distance of an end, and no unit stands in a keep-out. Places are reached from the start end in waves: where
one unit can stand, where a second can, and so on. Each place belongs to the first wave that gets there, so
the work is near linear in the keep-outs, and the wave that first gets to the far end has the fewest units.

All work is in whole millimetres with limits rounded to the safe side: an answer can be set out with a tape
and breaks no limit by rounding. Reaching as far as possible each time would be simpler, but it is not
always best: a unit may stand so far on that the next free place is nearer than the least distance.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor

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
class Run:
    """What holds for every row of one trench.

    Centre to centre, `spacing_m` at most and `least_m` at least; the first unit at most `start_m` and the
    last at most `end_m` from its end of the trench; no centre nearer than `margin_m` to an end (half a
    rail); no fewer than `at_least` units. Raises ValueError when `least_m` exceeds `spacing_m`.
    """

    length_m: Metre
    spacing_m: Metre
    start_m: Metre
    end_m: Metre
    least_m: Metre
    margin_m: Metre = 0.0
    at_least: int = 1

    def __post_init__(self) -> None:
        if self.least_m > self.spacing_m:
            raise ValueError(f"units {self.least_m} m apart at least cannot be {self.spacing_m} m at most")


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
        )


class UnitRow:
    """The fewest units in a row, evenly spread, with no centre inside `forbidden`: sorted stretches in
    millimetres whose edges are free. `units` is their number, or 0 where no row is lawful."""

    __slots__ = ("_pieces", "_run", "_waves", "units")

    def __init__(self, run: RunInMm, forbidden: Sequence[Stretch]) -> None:
        self._run = run
        self._pieces = _free(run, forbidden)
        self._waves = _waves(run, self._pieces, run.at_least, (0, run.start))
        self.units = len(self._waves) if self._waves[-1] else 0

    @property
    def positions_m(self) -> tuple[Metre, ...]:
        """Centres from the start end."""
        return tuple(x / 1000 for x in _even(self._run, self._waves)) if self.units else ()

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """What stays open. Neither units nor gaps: fewer than `at_least` units fit into the trench."""
        if self.units:
            return ()
        return tuple(Gap(a / 1000, b / 1000, limit / 1000) for a, b, limit in _gaps(self._run, self._pieces))


def row(run: Run, forbidden: Iterable[tuple[Metre, Metre]] = ()) -> UnitRow:
    """One row of a run round `forbidden`, in metres."""
    return UnitRow(RunInMm.of(run), sorted((mm_down(a), mm_up(b)) for a, b in forbidden))


def _free(run: RunInMm, forbidden: Sequence[Stretch]) -> Pieces:
    """The closed pieces of the trench outside the open intervals `forbidden` (sorted)."""
    pieces: Pieces = []
    at, end = run.margin, run.length - run.margin
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


def _reach(free: Pieces, wave: Pieces, least: int, most: int) -> Pieces:
    """Take out of `free` every place from `least` to `most` beyond some place of the wave."""
    taken: Pieces = []
    for a, b in wave:
        low, high = a + least, b + most
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


def _waves(run: RunInMm, pieces: Pieces, at_least: int, first: Stretch) -> list[Pieces]:
    """Where the first, second ... unit can stand; the last wave gets to the far end, or is empty.

    The first unit stands within `first`. A place is given to its earliest wave only, except that the first
    `at_least` waves are counted whole: that many units may use places which fewer would reach.
    """
    free = list(pieces)
    wave = _reach(free, [(first[0], first[0])], 0, first[1] - first[0])
    waves = [wave]
    while wave and (len(waves) < at_least or wave[-1][1] < run.length - run.end):
        if len(waves) < at_least:
            free = list(pieces)
        wave = _reach(free, wave, run.least, run.spacing)
        waves.append(wave)
    return waves


def _even(run: RunInMm, waves: list[Pieces]) -> list[int]:
    """One place of each wave, from the far end back, each as near as may be to an even share of the rest.

    Every place of a wave has a place of the wave before at a lawful distance, so none gets stuck.
    """
    at: list[int] = []
    after, share = run.length, run.end
    low, high = run.length - run.end, run.length
    for before in range(len(waves) - 1, -1, -1):
        shares = run.start + before * run.spacing + share
        wanted = after - after * share / shares if shares else 0
        mark = round(wanted / _TAPE_MM) * _TAPE_MM
        spots = ((max(a, low), min(b, high)) for a, b in waves[before])
        after = min((min(max(mark, a), b) for a, b in spots if a <= b), key=lambda x: abs(x - mark))
        share, low, high = run.spacing, after - run.spacing, after - run.least
        at.append(after)
    return at[::-1]


def _gaps(run: RunInMm, pieces: Pieces) -> list[tuple[int, int, int]]:
    """From, to and limit of each gap that stays open, as narrow as it can be after the one before."""
    if not pieces:
        return [(0, run.length, 0)]
    gaps: list[tuple[int, int, int]] = []
    far, limit, onward = 0, run.start, pieces[0][0]
    waves = _waves(run, pieces, 1, (0, run.start))
    while not waves[-1]:
        if waves[0]:
            far, limit = max(wave[-1][1] for wave in waves if wave), run.spacing
            beyond = (max(a, far + run.least) for a, b in pieces if b >= far + run.least)
            if (onward := next(beyond, run.length)) == run.length:
                return [*gaps, (far, run.length, run.end)]
        gaps.append((far, onward, limit))
        waves = _waves(run, pieces, 1, (onward, onward))
    return gaps
