"""A supplier's tabulated data, as a kit file carries it: what it must state, and which row holds.

29 CFR 1926.652(c)(2), (c)(3) and BS 5975-1:2024 12.4, 12.10 say what such a table tells: who approved it, the
parameters it is entered with, its limits, and enough explanation to select rightly. It is what crews and
inspectors go by. It is a ceiling here: our own working stands beside it, and the more onerous of the two
governs.
"""

from collections.abc import Iterator
from datetime import date
from itertools import product
from typing import Literal

from pydantic import Field, model_validator

from knowledge.reading import SoilType
from knowledge.sourced import DataRow, Sourced
from knowledge.units import Metre

_NOISE = 1e-9


class Approver(DataRow):
    """The engineer who approved tabulated data, or the use of a kit beyond it (652(c)(3)(iii))."""

    name: str = Field(min_length=1)
    registration: str = Field(min_length=1)
    place: str = Field(min_length=1)  # state or country
    on: date


class SupplierRow(DataRow):
    """For a trench in this type of soil up to this depth and width: the widest spacing and the least levels.

    `strut` names the sizes that may be used; empty: any of the kit.
    """

    soil: SoilType
    depth_m: Metre = Field(gt=0)
    width_m: Metre = Field(gt=0)
    spacing_m: Metre = Field(gt=0)
    levels: int = Field(ge=1)
    strut: tuple[str, ...] = ()


class SupplierTable(Sourced):
    """The supplier's sheet: which it is, who approved it, what it is entered with, where it ends, its rows.

    `basis`: capacities as working loads. A sheet in characteristic strengths is turned into working loads
    first, by whoever keeps the file: nobody here guesses its factor.
    """

    number: str = Field(min_length=1)
    issue: str = Field(min_length=1)
    issued: date
    pages: int = Field(ge=1)
    basis: Literal["working"]
    approved_by: Approver
    parameters: tuple[str, ...] = Field(min_length=1)
    limits: tuple[str, ...] = Field(min_length=1)
    explanation: str = Field(min_length=1)
    row: tuple[SupplierRow, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _harder_is_never_looser(self) -> "SupplierTable":
        for a, b in product(self.row, self.row):
            if a.soil > b.soil or a.depth_m > b.depth_m or a.width_m > b.width_m or a is b:
                continue
            key = f"row {b.soil} to {b.depth_m} m deep and {b.width_m} m wide"
            if (a.soil, a.depth_m, a.width_m) == (b.soil, b.depth_m, b.width_m):
                raise ValueError(f"{key}: given twice")
            if b.spacing_m > a.spacing_m:
                raise ValueError(f"{key}: spacing_m is wider than in a row for an easier trench")
            if b.levels < a.levels:
                raise ValueError(f"{key}: levels are fewer than in a row for an easier trench")
        return self

    @property
    def title(self) -> str:
        """The sheet as it is asked for on site, and who approved it."""
        return f"{self.number}, issue {self.issue}, {self.approved_by.name}"

    def row_for(self, soil: SoilType, depth: Metre, width: Metre) -> SupplierRow | None:
        """The row that holds: of those that reach as deep and as wide, the easiest; None outside the table.

        Between two rows that is the harder one: nothing is ever interpolated.
        """
        return min(self._reaching(soil, depth, width), key=lambda r: (r.depth_m, r.width_m), default=None)

    def _reaching(self, soil: SoilType, depth: Metre, width: Metre) -> Iterator[SupplierRow]:
        for row in self.row:
            if row.soil == soil and row.depth_m >= depth - _NOISE and row.width_m >= width - _NOISE:
                yield row
