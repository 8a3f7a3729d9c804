"""The units as told set, level by level, and their gauges. Units are numbered from one, top level first."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import NamedTuple

from knowledge.outcome import Level, Sized
from knowledge.reading import Gauge, Hazard, Reading
from knowledge.tables.entry_rules import EntryRules
from knowledge.units import Bar, Metre, Ratio

UNKNOWN = 0  # stands for the unit where a reading did not say which


@dataclass(frozen=True, slots=True)
class UnitGauge:
    """A unit's gauge: the last reading, and when it was read.

    `first` is the first reading since it was set, which must lie in the setting band. `base` is the one
    that its working band lies around: the first since it was dug to `dug`, or what the competent person
    accepted since. `sure` is False where something happened since that puts the reading in doubt.
    """

    bar: Bar
    first: Bar
    base: Bar
    at: datetime
    dug: Metre | None = None
    sure: bool = True

    def deeper(self, dug: Metre | None) -> bool:
        """Whether it was dug deeper since `base` was read."""
        return dug is not None and (self.dug is None or dug > self.dug)


@dataclass(frozen=True, slots=True)
class Bands:
    """How gauges are judged, bar: the plan's setting band (None without a plan), the rounding of a reading,
    the error of a gauge, and the share of a unit's first reading that the ground may add or take."""

    setting: tuple[Bar, Bar] | None
    rounding: Bar
    error: Bar
    share: Ratio

    @classmethod
    def of(cls, plan: Sized | None, rules: EntryRules) -> "Bands":
        figure = rules.figure
        setting = plan.pressure_bar if plan else None
        return cls(setting, figure.gauge_tolerance.si, figure.gauge_error.si, figure.working_share.si)

    def well_set(self, gauge: UnitGauge) -> bool:
        """Whether a unit was set inside the setting band and is not below it now. Above it the ground may
        have pushed since: that is the working band's matter."""
        if self.setting is None:
            return False
        low, high = self.setting
        return min(gauge.first, gauge.bar) >= low - self.rounding and gauge.first <= high + self.rounding

    def working(self, gauge: UnitGauge, dug: Metre | None) -> tuple[Bar, Bar]:
        """What a unit that was set may show: p_s - D to p_s + D, D the greater of 2 e and 0.1 p_s, and once
        after a deeper dig as far above the setting band as any unit may ever be."""
        either = max(2 * self.error, self.share * gauge.base)
        most = gauge.base + either
        if gauge.deeper(dug) and self.setting:
            most = max(most, self.setting[1] + 2 * self.error)
        return gauge.base - either - self.rounding, most + self.rounding

    def hazard(self, bar: Bar, gauge: UnitGauge | None, dug: Metre | None) -> Hazard | None:
        """What a reading is a sign of. `gauge` is None for a unit that is being set, or was never read."""
        if gauge and not self.well_set(gauge):  # it is still being pumped to its band
            if bar < gauge.bar - 2 * self.error - self.rounding:
                return "pressure loss"
            gauge = None
        if gauge is None:
            high = self.setting[1] if self.setting else float("inf")
            return "pressure rise" if bar > high + 2 * self.error + self.rounding else None
        low, most = self.working(gauge, dug)
        if bar < low:
            return "pressure loss"
        return "pressure rise" if bar > most else None

    def read(self, bar: Bar, gauge: UnitGauge | None, at: datetime, dug: Metre | None) -> UnitGauge:
        """The gauge once it shows `bar`; `gauge` as in `hazard`."""
        if gauge is None or not self.well_set(gauge):
            return UnitGauge(bar, bar, bar, at, dug)
        anew = gauge.deeper(dug) and self.hazard(bar, gauge, dug) is None
        now = replace(gauge, bar=bar, at=at, sure=True)
        return replace(now, base=bar, dug=dug) if anew else now

    def accepted(self, gauge: UnitGauge, most: Bar) -> UnitGauge:
        """The competent person has seen what it shows: a reading outside its working band is a new base. One
        above `most`, what the ram holds, is a slip or a ruin: whoever has seen it, it is read again."""
        if gauge.bar > most + self.rounding:
            return replace(gauge, sure=False)
        inside = self.hazard(gauge.bar, gauge, gauge.dug) is None
        return gauge if inside else replace(gauge, base=gauge.bar)


class SettingTold(NamedTuple):
    """What a message says about setting: the levels told whole, and the units told by number."""

    whole: tuple[int, ...] = ()
    level: int | None = None
    n: int = 0


@dataclass(frozen=True, slots=True)
class SetShores:
    """Units told set against the plan's levels. `counts` and `whole` have one entry a level; `laid_by` is
    the event whose plan they are laid by."""

    layout: tuple[Level, ...] = ()
    laid_by: str = ""
    counts: tuple[int, ...] = ()
    whole: tuple[bool, ...] = ()
    loose: int = 0  # told set without a level: the greatest number told
    gauges: Mapping[int, UnitGauge] = field(default_factory=dict)
    earlier: Mapping[int, UnitGauge] = field(default_factory=dict)  # under the plan before: they may not fall

    @classmethod
    def of(cls, plan: Sized, before: "SetShores | None" = None, by: str = "") -> "SetShores":
        """Nothing set yet of a plan; units of the plan before may still stand."""
        none, no = (0,) * len(plan.levels), (False,) * len(plan.levels)
        earlier = {**before.earlier, **before.gauges} if before else {}
        return cls(plan.levels, by, none, no, earlier=earlier)

    @property
    def planned(self) -> int | None:
        """How many units the plan has; None where the length is not known, or there is no plan."""
        count = 0
        for level in self.layout:
            if level.units is None:
                return None
            count += level.units
        return count if self.layout else None

    @property
    def standing(self) -> int:
        """How many units are told set: by count, or by a gauge reading that names the unit.

        Messages that give a number without a level are not added up: the same units may be meant twice.
        """
        planned = self.planned or 0
        read = sum(1 <= unit <= planned for unit in self.gauges) if self.gauges else 0
        every = sum(w for w, level in zip(self.whole, self.layout, strict=True) if level.units is None)
        return max(sum(self.counts) + every, self.loose, read)

    @property
    def complete(self) -> bool:
        """Whether every planned unit is told set."""
        return self.planned is not None and self.standing >= self.planned

    def level_set(self, index: int) -> bool:
        """Whether every unit of a level (from zero, top down) is told set."""
        return self.complete or self.whole[index]

    def holds_at(self, index: int) -> bool:
        """Whether any unit of a level is told to stand."""
        return self.level_set(index) or self.counts[index] > 0

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

    def accepted(self, bands: Bands, most: Bar) -> "SetShores":
        """The competent person has seen the gauges; `most` is what a ram of the kit holds."""
        gauges = {unit: bands.accepted(g, most) for unit, g in self.gauges.items()}
        return replace(self, gauges=gauges, earlier={})

    def after(
        self, reading: Reading, dug: Metre | None, at: datetime, bands: Bands
    ) -> tuple["SetShores", frozenset[Hazard]]:
        """The units once a reading is told at `at`, and what its gauges are a sign of."""
        if not (reading.gauges or reading.units_set or reading.done or reading.undone):
            return self, frozenset()
        setting = self._setting(reading, dug)
        found = self._signs(reading, setting, dug, bands)
        if found or reading.hazards:  # of a bad lowest or highest nobody says which unit it is
            reading = reading.model_copy(update={"spread": None})
        gauges = dict(self.gauges)
        for unit, bar in self._by_unit(reading, setting):
            known = None if unit == UNKNOWN else self._known(unit, reading, setting)
            read = bands.read(bar, known, at, dug)
            # "all set, lowest 36": what is heard beside words left over is no fresh reading of any unit.
            gauges[unit] = read if reading.whole else replace(read, sure=False)
        shores = replace(self, gauges=gauges)
        shores = shores._without_unknown() if UNKNOWN in gauges else shores
        shores = shores._with_set(setting)
        if "units out" in reading.done or "units set" in reading.undone:
            shores = shores._without(reading)
        return shores, frozenset(found.values())

    def adverse(self, reading: Reading, dug: Metre | None, bands: Bands) -> tuple[Gauge, ...]:
        """Of what a reading says of gauges, those that are a sign of danger or that no band holds.

        Whatever it says of setting, a unit that was read before is taken to be standing. The lowest of
        several is one unit's, nobody says which.
        """
        setting = self._setting(reading, dug)
        told = reading.model_copy(update={"units_set": None, "done": (), "spread": None})
        numbered = [Gauge(unit=unit or None, bar=bar) for unit, bar in self._by_unit(told, setting)]
        anew = told.model_copy(update={"gauges": tuple(numbered)})
        signs = self._signs(anew, SettingTold(), dug, bands)
        low, high = bands.setting or (float("-inf"), float("inf"))
        return tuple(
            each
            for each in numbered
            if (each.unit or UNKNOWN, each.bar) in signs
            or each.bar < low - bands.rounding
            or (
                each.bar > high + bands.rounding
                and self._known(each.unit or UNKNOWN, anew, SettingTold()) is None
            )
        )

    def _signs(
        self, reading: Reading, setting: SettingTold, dug: Metre | None, bands: Bands
    ) -> dict[tuple[int, Bar], Hazard]:
        """What each reading is a sign of. One of a unit that nobody named is one, where it would be for
        whichever unit was read before."""
        setting_now = self._setting_now(reading, setting)
        known = [] if setting_now else list({**self.earlier, **self.gauges}.values())
        found: dict[tuple[int, Bar], Hazard] = {}
        for unit, bar in self._by_unit(reading, setting):
            meant = known if unit == UNKNOWN and known else [self._known(unit, reading, setting)]
            signs = [bands.hazard(bar, gauge, dug) for gauge in meant]
            if bar <= bands.error and not setting_now:
                found[unit, bar] = "pressure loss"
            elif all(signs):
                found[unit, bar] = "pressure loss" if "pressure loss" in signs else "pressure rise"
        return found

    def _setting_now(self, reading: Reading, setting: SettingTold) -> bool:
        taking = "units set" in reading.undone or "units out" in reading.done
        return (reading.units_set is not None or bool(setting.whole)) and not self.complete and not taking

    def _known(self, unit: int, reading: Reading, setting: SettingTold) -> UnitGauge | None:
        """The gauge that a unit's reading is held against; None while it is set, or where it was never
        read."""
        if self._setting_now(reading, setting):
            return None
        return self.gauges.get(unit) or self.earlier.get(unit)

    def _setting(self, reading: Reading, dug: Metre | None) -> SettingTold:
        """What is told set. A level deeper than the dig cannot be meant by "all"; a level without a number
        ("top level set") is meant whole, and so are as many units as there are."""
        told = reading.units_set
        reached = tuple(i for i, level in enumerate(self.layout) if dug is None or level.depth_m <= dug)
        level = told.level - 1 if told and told.level else None
        if level is not None and level not in reached:
            return SettingTold()
        n = (told.n if told else None) or reading.read_on or 0
        whole = told is not None and (told.all or (told.level is not None and told.n is None))
        rows = told is not None and reading.rows == len(reached) > 1  # "both rows in", and so many there are
        every = "units set" in reading.done or whole or rows
        meant = reached if level is None else (level,)
        units = self._units_in(meant)
        if self.over(reading) is not None:
            return SettingTold()  # of another trench, or of another plan
        fewer = told is not None and told.n is not None and told.n < units
        if (every and not fewer) or (self.planned is not None and n == units > 0):
            return SettingTold(whole=meant)
        return SettingTold(level=level, n=min(n, units) if self.planned is not None else n)

    def over(self, reading: Reading) -> tuple[int, int] | None:
        """How many units are told set or read, and how many the plan has there, where those are fewer."""
        told, planned = reading.units_set, self.planned
        n = (told.n if told else None) or reading.read_on
        if planned is None or n is None:
            return None
        if told and told.level and told.level <= len(self.layout):
            planned = self._units_in((told.level - 1,))
        return (n, planned) if n > planned else None

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

    def less(self, n: int, unit: int | None = None) -> "SetShores":
        """The units once `n` of them are gone, or the one numbered `unit`.

        Of some, nobody says which: any level may have lost them, so that none is whole before it is told
        again, and every unit must be read again.
        """
        counts = [
            (level.units or 0) if self.level_set(i) else count
            for i, (level, count) in enumerate(zip(self.layout, self.counts, strict=True))
        ]
        own = [unit in self.units_of(i) for i in range(len(self.layout))]
        if unit is not None and any(own):
            whole = tuple(self.level_set(i) and not of_it for i, of_it in enumerate(own))
            gauges = {at: g for at, g in self.gauges.items() if at != unit}
            left = tuple(max(0, count - of_it) for count, of_it in zip(counts, own, strict=True))
            return replace(self, counts=left, whole=whole, loose=0, gauges=gauges, earlier={})
        return replace(
            self,
            counts=tuple(max(0, count - n) for count in counts),
            whole=(False,) * len(counts),
            loose=max(0, self.standing - n),
            gauges={},
            earlier={},
        )

    def _without_unknown(self) -> "SetShores":
        """A reading of an unknown unit stands until every planned unit has been read since."""
        since = self.gauges[UNKNOWN].at
        read = sum(1 for unit, g in self.gauges.items() if unit != UNKNOWN and g.at >= since)
        if self.planned is None or read < self.planned:
            return self
        return replace(self, gauges={unit: g for unit, g in self.gauges.items() if unit != UNKNOWN})

    def _by_unit(self, reading: Reading, setting: SettingTold) -> list[tuple[int, Bar]]:
        """Readings with the unit they belong to.

        One figure given with "all set", once or of each row, is every unit's, and one given of "all gauges"
        that of every unit that stands; of the lowest and the highest
        of them the lowest is taken for each, and the highest is one of a unit that is not known. As many
        figures as there are units are theirs in order; any other figure without a number belongs to a unit
        that is not known, the least of them told last.
        """
        numbered = [(g.unit, g.bar) for g in reading.gauges if g.unit is not None]
        bare = [g.bar for g in reading.gauges if g.unit is None]
        stand = [i for i in range(len(self.layout)) if reading.of_every and self.level_set(i)]
        units = [unit for i in sorted({*stand, *setting.whole}) for unit in self.units_of(i)]
        if len({*bare}) == 1 and units:
            return [(unit, bare[0]) for unit in units] + numbered
        if reading.spread and len(bare) == 2 and units:
            return [(UNKNOWN, max(bare)), *((unit, min(bare)) for unit in units), *numbered]
        if len(bare) == self.planned and not numbered:
            return list(enumerate(bare, start=1))
        return [(UNKNOWN, bar) for bar in sorted(bare, reverse=True)] + numbered
