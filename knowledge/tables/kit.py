"""A kit of shores as its data sheet states it: rails, struts, extensions, pressures, weights.

Struts with every set of extensions they may carry are worked out once, lightest first.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations_with_replacement, pairwise
from math import pi
from typing import Literal

from pydantic import Field, model_validator

from knowledge.sourced import DataRow, Sourced
from knowledge.tables.supplier import Approver, SupplierTable
from knowledge.units import GigaPascal, Kilogram, KiloNewton, Metre, Millimetre, SquareMillimetre

Wall = Literal["cohesive", "granular"]


class Rail(DataRow):
    """One upright rail: what bears on the face."""

    length_m: Metre = Field(gt=0)
    width_m: Metre = Field(gt=0)
    thickness_m: Metre = Field(gt=0)
    section_modulus_mm3: float = Field(gt=0)
    bending_gpa: GigaPascal = Field(gt=0)  # allowable stress
    shear_area_mm2: SquareMillimetre = Field(gt=0)
    shear_gpa: GigaPascal = Field(gt=0)  # allowable stress
    mass_kg: Kilogram = Field(gt=0)


class Tube(DataRow):
    """The weakest tube of a strut as a column between pins."""

    outer_mm: Millimetre = Field(gt=0)
    wall_mm: Millimetre = Field(gt=0)
    modulus_gpa: GigaPascal = Field(gt=0)
    yield_gpa: GigaPascal = Field(gt=0)

    @cached_property
    def area_mm2(self) -> SquareMillimetre:
        inner = self.outer_mm - 2 * self.wall_mm
        return pi / 4 * (self.outer_mm**2 - inner**2)

    @cached_property
    def inertia_mm4(self) -> float:
        inner = self.outer_mm - 2 * self.wall_mm
        return pi / 64 * (self.outer_mm**4 - inner**4)


class WorkingLoad(DataRow):
    """Safe working load at one length between the faces of the strut."""

    length_m: Metre
    kn: KiloNewton = Field(gt=0)


class StrutSize(DataRow):
    """One size of strut. Lengths are over its ends, without extensions."""

    name: str
    bore_mm: Millimetre = Field(gt=0)
    closed_m: Metre = Field(gt=0)
    open_m: Metre
    mass_kg: Kilogram = Field(gt=0)
    extensions_most: int = Field(ge=0)
    tube: Tube
    working_load: tuple[WorkingLoad, ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _in_order(self) -> "StrutSize":
        if self.open_m <= self.closed_m:
            raise ValueError(f"strut {self.name}: open_m must exceed closed_m")
        for a, b in pairwise(self.working_load):
            if b.length_m <= a.length_m or b.kn > a.kn:
                raise ValueError(f"strut {self.name}: working_load must fall as length rises")
        return self

    @cached_property
    def bore_area_mm2(self) -> SquareMillimetre:
        return pi / 4 * self.bore_mm**2

    def stated_kn(self, length_m: Metre) -> KiloNewton:
        """Safe working load between two stated lengths. Raises ValueError beyond them: never extrapolated."""
        rows = self.working_load
        if not rows[0].length_m <= length_m <= rows[-1].length_m:
            raise ValueError(f"strut {self.name} has no stated load at {length_m} m")
        i = min(bisect_right(rows, length_m, key=lambda row: row.length_m), len(rows) - 1)
        a, b = rows[i - 1], rows[i]
        return a.kn + (b.kn - a.kn) * (length_m - a.length_m) / (b.length_m - a.length_m)


class Extension(DataRow):
    length_m: Metre = Field(gt=0)
    mass_kg: Kilogram = Field(gt=0)


class Board(DataRow):
    """A board behind the rails, against ravelling: from rail to rail it carries nothing that is counted on.

    Close beside a rail it spreads the rail's load as far as its own bending allows.
    """

    length_m: Metre = Field(gt=0)
    width_m: Metre = Field(gt=0)
    thickness_m: Metre = Field(ge=0)
    bending_gpa: GigaPascal = Field(gt=0)  # allowable stress, wet, in its weaker direction
    mass_kg_per_m2: float = Field(gt=0)


class TurnedUse(Sourced):
    """What the supplier says of a unit turned, its rails lying level: at a service where none stands upright.

    `height_m`: the most of the face that such a rail may hold, half way to its neighbours above and below.
    """

    height_m: Metre = Field(gt=0)


class Extra(DataRow):
    """Something else that goes on the van, and how many of it."""

    mass_kg: Kilogram = Field(gt=0)
    per_unit: int = Field(default=0, ge=0)
    per_extension: int = Field(default=0, ge=0)
    per_trench: int = Field(default=0, ge=0)
    per_load: int = Field(default=0, ge=0)

    @model_validator(mode="after")
    def _counted(self) -> "Extra":
        if not (self.per_unit or self.per_extension or self.per_trench or self.per_load):
            raise ValueError("say how many are loaded: per_unit, per_extension, per_trench or per_load")
        return self


@dataclass(frozen=True, slots=True)
class Combination:
    """A strut with extensions: the lengths it may be set to, and its weight."""

    size: StrutSize
    extensions_m: tuple[Metre, ...]
    least_m: Metre  # closed, with room to set it
    greatest_m: Metre  # open, less the reserve of stroke
    mass_kg: Kilogram

    @property
    def weight(self) -> tuple[Kilogram, Metre]:
        """What struts are ranked by: of two as heavy the shorter is the lighter."""
        return self.mass_kg, self.greatest_m


class Kit(Sourced):
    """Everything a supplier's data sheet states about one kit."""

    name: str
    title: str
    depth_m: Metre = Field(gt=0)
    rail: Rail
    strut: tuple[StrutSize, ...] = Field(min_length=1)
    extension: tuple[Extension, ...] = ()
    board: Board
    setting_room_m: Metre = Field(ge=0)
    reserve_m: Metre = Field(ge=0)
    column_factor: float = Field(ge=1)
    relief_bar: float = Field(gt=0)
    relief_at: Literal["pump", "ram"]  # a valve in the ram lets go under load, one at the pump does not
    ram_bar: float = Field(gt=0)  # rated pressure of the ram
    least_bar: dict[Wall, float]
    table: SupplierTable | None = None
    approved_by: Approver | None = None  # an engineer's approval of this kit without a table
    turned: TurnedUse | None = None  # None: the supplier does not say so, and no rail is set level
    extra: dict[str, Extra] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _whole(self) -> "Kit":
        if self.least_bar.keys() != {"cohesive", "granular"}:
            raise ValueError("least_bar must name cohesive and granular ground")
        if any(bar > self.relief_bar for bar in self.least_bar.values()):
            raise ValueError("least_bar exceeds relief_bar")
        if self.relief_bar > self.ram_bar:
            raise ValueError("relief_bar exceeds ram_bar, what the ram is rated for")
        for row in self.table.row if self.table else ():
            if unknown := set(row.strut) - {s.name for s in self.strut}:
                raise ValueError(f"table: row.strut: no strut {', '.join(sorted(unknown))} in this kit")
            if row.spacing_m <= self.rail.width_m:
                raise ValueError(f"table: row.spacing_m: {row.spacing_m} m is no wider than a rail")
        if self.turned and self.rail.length_m <= self.rail.width_m:
            raise ValueError("turned: a rail no longer than it is wide is the same turned")
        if self.turned and self.turned.height_m > self.depth_m:
            raise ValueError(
                f"turned: height_m: {self.turned.height_m} m is more than the whole face, {self.depth_m} m"
            )
        if len({s.name for s in self.strut}) < len(self.strut):
            raise ValueError("two struts of one name")
        for c in self.combinations:
            rows = c.size.working_load
            if c.least_m < c.greatest_m and not (
                rows[0].length_m <= c.least_m and c.greatest_m <= rows[-1].length_m
            ):
                raise ValueError(
                    f"strut {c.size.name}: working_load must reach from {c.least_m} to {c.greatest_m} m"
                )
        return self

    @cached_property
    def combinations(self) -> tuple[Combination, ...]:
        """Every strut with every lawful set of extensions, lightest first."""
        return tuple(sorted(self._all(), key=lambda c: c.weight))

    @property
    def held_bar(self) -> float:
        """The fluid pressure that the ram holds under load: its rating, or where a valve in it lets go."""
        return min(self.ram_bar, self.relief_bar) if self.relief_at == "ram" else self.ram_bar

    @cached_property
    def reach_m(self) -> Metre:
        """The most that any strut of the kit spans."""
        return max(c.greatest_m for c in self.combinations)

    def _all(self) -> Iterator[Combination]:
        for size in self.strut:
            for count in range(size.extensions_most + 1):
                for chosen in combinations_with_replacement(self.extension, count):
                    added = sum(e.length_m for e in chosen)
                    yield Combination(
                        size=size,
                        extensions_m=tuple(e.length_m for e in chosen),
                        least_m=round(size.closed_m + added + self.setting_room_m, 4),
                        greatest_m=round(size.open_m + added - self.reserve_m, 4),
                        mass_kg=size.mass_kg + sum(e.mass_kg for e in chosen),
                    )
