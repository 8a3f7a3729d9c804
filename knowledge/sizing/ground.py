"""Soil as described -> cautious design values and its 29 CFR 1926 Subpart P type."""

from dataclasses import dataclass

from knowledge.reading import Details, Soil, SoilType
from knowledge.sheet import Sheet, formula
from knowledge.sourced import Rulebook
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import GroundRow, Soils
from knowledge.units import Degree, KiloPascal, KnPerM3

_NOISE = 1e-9


@dataclass(frozen=True, slots=True)
class Ground:
    """Design values of one ground. `strength` is None where it is granular.

    `heap` is the weight by which what is dug out of it makes a heap. Of sand and gravel that is the weight of
    the heaviest state: a looser one behind the rails, which bears no more, must not be held by less.
    """

    row: GroundRow
    soil_type: SoilType
    weight: KnPerM3
    strength: KiloPascal | None
    friction: Degree
    intact: bool  # never dug and not shaken, and said so; no fissures told
    heap: KnPerM3

    @property
    def firm(self) -> bool:
        """Chalk, rock, or clay firm or better and no type C: what stands beside is clear at the depth."""
        weak = self.row.kind in ("clay", None) and self.soil_type == "C"
        return self.row.bites == "usual" and not weak


@formula(symbol="q_u", source="by definition, c_u = q_u / 2")
def unconfined_strength(c_u: KiloPascal) -> KiloPascal:
    """Unconfined compressive strength, by which the Subpart P types are told apart."""
    return 2 * c_u


def type_by_strength(q_u: KiloPascal, soils: Soils) -> SoilType:
    """Type of intact cohesive soil: A from 1.5 tsf, B above 0.5 tsf, else C (App A (b))."""
    if q_u >= soils.type_a_from.si - _NOISE:
        return "A"
    return "B" if q_u > soils.type_b_above.si + _NOISE else "C"


def downgraded(
    soil_type: SoilType, *, fissured: bool, vibration: bool, disturbed: bool, wet: bool, dipping: bool = False
) -> SoilType:
    """The type after the conditions of App A (b): wet ground and layers that dip in steeply are C."""
    if wet or dipping:
        return "C"
    return "B" if soil_type == "A" and (fissured or vibration or disturbed) else soil_type


def described(soil: Soil | None, soils: Soils) -> GroundRow | None:
    """The row for a described soil; None where more must be told before anything can be worked.

    A type without a description is the weakest credible ground of that type.
    """
    if soil is None:
        return None
    if soil.kind is None:
        return soils.by_type[soil.type] if soil.type else None
    if soil.kind not in soils.stated:
        return soils.rows[soil.kind, None]
    if soil.state is not None:
        return soils.rows.get((soil.kind, soil.state))
    cohesive = any(r.kind == soil.kind and r.strength for r in soils.ground)
    return soils.by_type[soil.type] if cohesive and soil.type in ("A", "B") else None


def design(row: GroundRow, details: Details, tables: Tables, rulebook: Rulebook, sheet: Sheet) -> Ground:
    """Design values of a row, with its type after what was told of it and what must be assumed."""
    told = details.soil.type if details.soil else None
    strength = row.strength.by(rulebook) if row.strength else None
    of = _name(row)
    sheet.part("Ground")
    sheet.figure("γ", row.weight, f"Unit weight of {of}")
    sheet.figure("φ", row.friction, f"Friction angle of {of}")
    if strength is not None and row.strength:
        sheet.given("c_u", strength, "kPa", row.strength, f"Undrained strength of {of}")
    soil_type = row.type
    if soil_type is None:
        assert strength is not None  # figures.GroundRow sees to it
        sheet.figure("q_A", tables.soils.type_a_from, "Unconfined strength from which soil is type A")
        sheet.figure("q_B", tables.soils.type_b_above, "Unconfined strength above which soil is type B")
        soil_type = type_by_strength(sheet.work(unconfined_strength, strength), tables.soils)
    if told:
        # Whoever names a type has classed the ground as it stands; it is never better than described.
        soil_type = max(soil_type, told)
    soil_type = downgraded(
        soil_type,
        fissured=_holds(details.fissured, told is None),
        vibration=_holds(details.traffic, told is None),
        disturbed=_holds(details.disturbed, told is None),
        wet=details.water in ("seeping", "standing"),
        dipping=details.dipping is True,
    )
    # Nobody at a trench tells of fissures that are not there; never dug and never shaken must be said.
    intact = details.disturbed is False and details.traffic is False and details.fissured is not True
    same = [each.weight.si for each in tables.soils.ground if each.kind == row.kind and strength is None]
    heap = max([row.weight.si, *same])
    return Ground(row, soil_type, row.weight.si, strength, row.friction.si, intact, heap)


def _name(row: GroundRow) -> str:
    return " ".join(word for word in (row.state, row.kind) if word) or f"type {row.type} soil"


def _holds(told: bool | None, otherwise: bool) -> bool:
    """A condition that makes ground worse: as told, else the worse unless somebody classed the ground."""
    return otherwise if told is None else told
