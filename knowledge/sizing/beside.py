"""What stands or lies beside the trench: how near it may be, and what must be asked about it.

Inside the influence line shores do not help: they hold a face, and a house moves by more than a face may.
So it is a stop, whatever load is told. What is a little further off is watched for cracks.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from knowledge.reading import Beside, Details
from knowledge.sizing.ground import Ground
from knowledge.tables.load import Tables
from knowledge.units import Amount, Metre

_NOISE = 1e-9
_SLOPES = ("slope", "embankment")


@dataclass(frozen=True, slots=True)
class TooNear:
    """Something inside its reach: the refusal it raises, and the figures of its sentence."""

    rule: str
    numbers: dict[str, Amount | str]


def untold(details: Details) -> bool:
    """Whether the distance of something beside the trench must be asked."""
    return any(b.at_m is None for b in details.beside if not (b.what in _SLOPES and b.one_in is not None))


def too_near(details: Details, ground: Ground | None, tables: Tables) -> Iterator[TooNear]:
    """All that stops the trench by standing beside it; ground nobody described is soft."""
    H = details.depth_m
    if H is None:
        return
    for thing in details.beside:
        if thing.what in _SLOPES and thing.one_in is not None:
            yield from _steep(thing, tables)
        elif thing.at_m is not None and thing.at_m <= (reach := _reach(thing, H, ground, tables)) + _NOISE:
            numbers: dict[str, Amount | str] = {
                "what": thing.what,
                "off": Amount(thing.at_m, "m"),
                "reach": Amount(reach, "m", "upper"),
            }
            yield TooNear("beside", numbers)


def watched(details: Details, ground: Ground | None, tables: Tables) -> Beside | None:
    """The nearest thing that is outside its reach but near enough for its cracks to be watched."""
    H = details.depth_m
    if H is None:
        return None
    near = [
        thing
        for thing in details.beside
        if thing.at_m is not None
        and thing.at_m <= _reach(thing, H, ground, tables) * tables.practice.beside[thing.what].caution
    ]
    return min(near, key=lambda thing: thing.at_m or 0.0, default=None)


def _steep(slope: Beside, tables: Tables) -> Iterator[TooNear]:
    steepest = tables.practice.slope_steep.si
    assert slope.one_in is not None
    if slope.one_in < steepest - _NOISE:
        yield TooNear("slope-steep", {"rise": Amount(slope.one_in), "steepest": Amount(steepest)})


def _reach(thing: Beside, H: Metre, ground: Ground | None, tables: Tables) -> Metre:
    """How far from the edge this thing must be: nearer, or just there, it is inside."""
    row = tables.practice.beside[thing.what]
    if row.unless_held and thing.held:
        return -1.0
    depth, deep = H, thing.deep_m or 0.0
    if thing.what == "trench":
        depth = max(H, deep)
    elif row.underside:
        depth = max(0.0, H - deep)
    factor = row.firm if ground and ground.firm else row.other
    return max(row.least_m, factor * depth)
