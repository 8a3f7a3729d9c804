"""What to do, one step at a time: digging in from the top down, taking out from the bottom up.

A step is data: what is done, at which level, to which depth, and what must be true first. It carries its
sentence like a caution does, so it is written out in any language and unit in the same way.
"""

from collections.abc import Iterator
from typing import Literal

from knowledge.outcome import Caution, Level, Sized
from knowledge.reading import How
from knowledge.sourced import Rulebook
from knowledge.tables.kit import Kit
from knowledge.tables.load import Tables
from knowledge.tables.step_rules import Need, StepName
from knowledge.units import Amount, LimitSide, Metre, show

Action = Literal["dig", "set", "prop", "ends", "ladder", "inspect", "fill", "release"]

# Never dug deeper than said; never filled over the foot of a rail that is still to be released.
LIMITS: dict[Action, LimitSide] = {"dig": "upper", "fill": "lower"}


class Step(Caution):
    """One step. `level` counts from 1 at the top; `depth_m` is dug or filled to, or of the strut's axis."""

    action: Action
    level: int | None = None
    depth_m: Metre | None = None
    needs: tuple[Need, ...]


def dig_in(sized: Sized, tables: Tables) -> tuple[Step, ...]:
    """From the first bite to the inspection: no step may be taken before what it needs is true."""
    return tuple(_dig_in(sized, _Writer(sized, tables)))


def take_out(sized: Sized, tables: Tables) -> tuple[Step, ...]:
    """From the finished work to the filled trench.

    Fill rises close under a level's rails before that level is released, so what stands open under the
    level above is never more than when it was dug (29 CFR 1926.652(e)(1)(v) and (vi); common practice).
    """
    return tuple(_take_out(sized, tables.kits[sized.kit], _Writer(sized, tables)))


def how_to(how: How, rulebook: Rulebook, tables: Tables) -> tuple[Caution, ...]:
    """How any unit is made ready, set or taken out, in the order in which it is done."""
    return tuple(
        Caution(id=f"how-{how}-{name}", say=row.say, source=tables.source(row, rulebook))
        for name, row in tables.steps.how[how].items()
    )


class _Writer:
    """Writes a rule of steps.toml out as a step of this answer."""

    def __init__(self, sized: Sized, tables: Tables) -> None:
        self._sized = sized
        self._tables = tables

    def __call__(
        self,
        action: Action,
        name: StepName,
        level: int | None = None,
        depth_m: Metre | None = None,
        **numbers: Amount | str,
    ) -> Step:
        rule = self._tables.steps.step[name]
        if level is not None:
            numbers["level"] = Amount(level)
        if depth_m is not None:
            numbers["depth"] = Amount(depth_m, "m", LIMITS.get(action))
        shown = {blank: show(n) if isinstance(n, Amount) else n for blank, n in numbers.items()}
        return Step(
            id=f"step-{name}",
            say=rule.say.format_map(shown),
            source=self._tables.source(rule, self._sized.rulebook),
            numbers=numbers,
            action=action,
            level=level,
            depth_m=depth_m,
            needs=rule.needs,
        )


def _dig_in(sized: Sized, step: _Writer) -> Iterator[Step]:
    for number, (level, bite) in enumerate(zip(sized.levels, sized.stages_m, strict=False), 1):
        yield step("dig", "dig-first" if number == 1 else "dig-on", None, bite)
        if number == 1 and sized.props:
            yield step("prop", "prop", None, sized.props.depth_m, units=Amount(sized.props.count))
        yield _set(sized, number, level, step)
    yield step("dig", "dig-on" if sized.levels else "dig-first", None, sized.stages_m[-1])
    yield step("ends", "ends")
    yield step("ladder", "ladder")
    yield step("inspect", "inspect")


def _set(sized: Sized, number: int, level: Level, step: _Writer) -> Step:
    low, high = sized.pressure_bar
    band = {"low": Amount(low, "bar", "lower"), "high": Amount(high, "bar", "upper")}
    if level.units is None:
        spacing = Amount(sized.spacing_m, "m", "upper")
        return step("set", "set-every", number, level.depth_m, spacing=spacing, **band)
    return step("set", "set", number, level.depth_m, units=Amount(level.units), **band)


def _take_out(sized: Sized, kit: Kit, step: _Writer) -> Iterator[Step]:
    for number, level in reversed(list(enumerate(sized.levels, 1))):
        foot = round(level.depth_m + kit.rail.length_m / 2, 3)
        yield step("fill", "fill", number, foot)
        yield step("release", "release" if number > 1 else "release-last", number)
    yield step("fill", "fill-up-props" if sized.props else "fill-up")
