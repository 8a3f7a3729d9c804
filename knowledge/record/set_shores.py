"""The units as told set, level by level, and their gauges. Units are numbered from one, top level first."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import NamedTuple

from knowledge.outcome import Level, Sized
from knowledge.reading import Reading
from knowledge.units import Bar, Metre

UNKNOWN = 0  # stands for the unit where a reading did not say which


@dataclass(frozen=True, slots=True)
class UnitGauge:
    """A unit's gauge: the last reading, the highest since it was set or last inspected, and when it was read.

    `sure` is False where something happened since that puts the reading in doubt.
    """

    bar: Bar
    held: Bar
    at: datetime
    sure: bool = True


class Gauges(NamedTuple):
    """When gauges were read, and the least fall that counts as a loss of pressure."""

    at: datetime
    least_fall: Bar


class SettingTold(NamedTuple):
    """What a message says about setting: the levels told whole, and the units told by number."""

    whole: tuple[int, ...] = ()
    level: int | None = None
    n: int = 0


@dataclass(frozen=True, slots=True)
class SetShores:
    """Units told set against the plan's levels. `counts` and `whole` have one entry a level."""

    layout: tuple[Level, ...] = ()
    counts: tuple[int, ...] = ()
    whole: tuple[bool, ...] = ()
    loose: int = 0  # told set without a level: the greatest number told
    gauges: Mapping[int, UnitGauge] = field(default_factory=dict)
    earlier: Mapping[int, UnitGauge] = field(default_factory=dict)  # under the plan before: they may not fall

    @classmethod
    def of(cls, plan: Sized, before: "SetShores | None" = None) -> "SetShores":
        """Nothing set yet of a plan; units of the plan before may still stand."""
        none, no = (0,) * len(plan.levels), (False,) * len(plan.levels)
        return cls(plan.levels, none, no, earlier={**before.earlier, **before.gauges} if before else {})

    @property
    def planned(self) -> int | None:
        """How many units the plan has; None where the length is not known, or there is no plan."""
        counts = [level.units for level in self.layout]
        return sum(n for n in counts if n is not None) if counts and None not in counts else None

    @property
    def standing(self) -> int:
        """How many units are told set: by count, or by a gauge reading that names the unit.

        Messages that give a number without a level are not added up: the same units may be meant twice.
        """
        planned = self.planned or 0
        read = sum(1 for unit in self.gauges if 1 <= unit <= planned)
        every = sum(w for w, level in zip(self.whole, self.layout, strict=True) if level.units is None)
        return max(sum(self.counts) + every, self.loose, read)

    @property
    def complete(self) -> bool:
        """Whether every planned unit is told set."""
        return self.planned is not None and self.standing >= self.planned

    def level_set(self, index: int) -> bool:
        """Whether every unit of a level (from zero, top down) is told set."""
        return self.complete or self.whole[index]

    def units_of(self, index: int) -> range:
        """The numbers of a level's units; empty where the count is not known."""
        if self.planned is None:
            return range(0)
        first = 1 + sum(level.units or 0 for level in self.layout[:index])
        return range(first, first + (self.layout[index].units or 0))

    @staticmethod
    def listed(units: list[int]) -> str:
        """ "4" or "2, 5" or "3-8": short enough for a text."""
        if len(units) > 2 and units[-1] - units[0] == len(units) - 1:
            return f"{units[0]}-{units[-1]}"
        return ", ".join(str(unit) for unit in units)

    def doubted(self) -> "SetShores":
        """All gauges must be read again."""
        return replace(self, gauges={unit: replace(g, sure=False) for unit, g in self.gauges.items()})

    def accepted(self) -> "SetShores":
        """The competent person has seen the gauges: from now on they may not fall below what they show."""
        gauges = {unit: replace(g, held=g.bar) for unit, g in self.gauges.items()}
        return replace(self, gauges=gauges, earlier={})

    def after(self, reading: Reading, dug: Metre | None, read: Gauges) -> tuple["SetShores", bool]:
        """The units once a reading is told, and whether a gauge fell from what it had held."""
        if not (reading.gauges or reading.units_set or reading.done or reading.undone):
            return self, False
        setting = self._setting(reading, dug)
        setting_now = (reading.units_set is not None or bool(setting.whole)) and not self.complete
        shores, fell = self._with_gauges(reading, setting, read, setting_now)
        shores = shores._with_set(setting)
        if "units out" in reading.done or "units set" in reading.undone:
            shores = shores._without(reading)
        return shores, fell

    def _setting(self, reading: Reading, dug: Metre | None) -> SettingTold:
        """What is told set. A level deeper than the dig cannot be meant by "all"; a level without a number
        ("top level set") is meant whole."""
        told = reading.units_set
        reached = tuple(i for i, level in enumerate(self.layout) if dug is None or level.depth_m <= dug)
        level = told.level - 1 if told and told.level else None
        if level is not None and level not in reached:
            return SettingTold()
        n = (told.n if told else None) or 0
        whole = told is not None and (told.all or (told.level is not None and told.n is None))
        every = "units set" in reading.done or whole
        meant = reached if level is None else (level,)
        if every and not (told and told.n is not None and told.n < self._units_in(meant)):
            return SettingTold(whole=meant)
        return SettingTold(level=level, n=min(n, self._units_in(meant)) if self.planned is not None else n)

    def _units_in(self, levels: tuple[int, ...]) -> int:
        return sum(self.layout[i].units or 0 for i in levels)

    def _with_set(self, setting: SettingTold) -> "SetShores":
        counts, whole = list(self.counts), list(self.whole)
        for i in setting.whole:
            counts[i], whole[i] = self.layout[i].units or 0, True
        if setting.level is None:
            return replace(self, counts=tuple(counts), whole=tuple(whole), loose=max(self.loose, setting.n))
        counts[setting.level] = max(counts[setting.level], setting.n)
        if counts[setting.level] == self.layout[setting.level].units:
            whole[setting.level] = True
        return replace(self, counts=tuple(counts), whole=tuple(whole))

    def _without(self, reading: Reading) -> "SetShores":
        """Units taken out: those of the level told; "units out" means all; of some, nobody says which, the
        lowest level set, since units come out from the bottom up (common practice)."""
        told = reading.units_set
        standing = [i for i in range(len(self.layout)) if self.level_set(i) or self.counts[i]]
        gone = set(standing[-1:])
        if told and told.level:
            gone = {told.level - 1}
        elif "units out" in reading.done:
            gone = set(range(len(self.layout)))
        kept = [i not in gone for i in range(len(self.layout))]
        left = {unit for i, keep in enumerate(kept) if keep for unit in self.units_of(i)}
        return replace(
            self,
            counts=tuple(
                (level.units or 0 if self.complete else n) if keep else 0
                for level, n, keep in zip(self.layout, self.counts, kept, strict=True)
            ),
            whole=tuple(self.level_set(i) and keep for i, keep in enumerate(kept)),
            loose=0,
            gauges={unit: g for unit, g in self.gauges.items() if unit in left},
            earlier={},
        )

    def _with_gauges(
        self, reading: Reading, setting: SettingTold, read: Gauges, setting_now: bool
    ) -> tuple["SetShores", bool]:
        gauges, fell = dict(self.gauges), False
        for unit, bar in self._by_unit(reading, setting):
            before = gauges.get(unit)
            held = None if setting_now else self._held(unit)
            fell = fell or (held is not None and held - bar >= read.least_fall - 1e-6)
            highest = bar if before is None or setting_now else max(before.held, bar)
            gauges[unit] = UnitGauge(bar, highest, read.at)
        shores = replace(self, gauges=gauges)
        return shores._without_unknown() if UNKNOWN in gauges else shores, fell

    def _without_unknown(self) -> "SetShores":
        """A reading of an unknown unit stands until every planned unit has been read since."""
        since = self.gauges[UNKNOWN].at
        read = sum(1 for unit, g in self.gauges.items() if unit != UNKNOWN and g.at >= since)
        if self.planned is None or read < self.planned:
            return self
        return replace(self, gauges={unit: g for unit, g in self.gauges.items() if unit != UNKNOWN})

    def _held(self, unit: int) -> Bar | None:
        """What the unit's gauge had held. An unknown unit's reading fell if it is below all others."""
        known = {**self.earlier, **self.gauges}
        if unit in known:
            return known[unit].held
        if unit == UNKNOWN and known:
            return min(gauge.held for gauge in known.values())
        return None

    def _by_unit(self, reading: Reading, setting: SettingTold) -> list[tuple[int, Bar]]:
        """Readings with the unit they belong to.

        One figure given with "all set" is every unit's; as many figures as there are units are theirs in
        order; any other figure without a number belongs to a unit that is not known.
        """
        numbered = [(g.unit, g.bar) for g in reading.gauges if g.unit is not None]
        bare = [g.bar for g in reading.gauges if g.unit is None]
        units = [unit for i in setting.whole for unit in self.units_of(i)]
        if len(bare) == 1 and units:
            return [(unit, bare[0]) for unit in units] + numbered
        if len(bare) == self.planned and not numbered:
            return list(enumerate(bare, start=1))
        return ([(UNKNOWN, min(bare))] if bare else []) + numbered
