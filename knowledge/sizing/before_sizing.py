"""What comes before any sizing: the facts that rules are asked about, what must be asked, what is refused."""

from knowledge.outcome import Refusal
from knowledge.reading import Details
from knowledge.sizing.ground import Ground
from knowledge.sizing.rules import SizingValue, refusal, refusals
from knowledge.sizing.shores import kit_meets_tables
from knowledge.sourced import Rulebook
from knowledge.tables.kit import Kit
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import GroundRow, SizingFact
from knowledge.units import Amount, Metre

_NOISE = 1e-9


def questions(details: Details, row: GroundRow | None) -> tuple[str, ...]:
    """What must be told before this trench can be sized, as field names of the reading."""
    along = any(s.at_m is None and s.depth_m is None for s in details.services)
    wanted = {
        "depth_m": not details.depth_m or details.depth_m <= 0,
        "width_m": not details.width_m or details.width_m <= 0,
        "soil": row is None,
        "face": row is not None and row.stands == "as reported" and details.face is None,
        "services": along,
    }
    return tuple(name for name, untold in wanted.items() if untold)


def refused(
    details: Details,
    ground: Ground | None,
    facts: dict[SizingFact, SizingValue],
    tables: Tables,
    rulebook: Rulebook,
    kit: Kit,
) -> tuple[Refusal, ...]:
    """Every refusal that follows from what was told, without working anything."""
    book = tables.rulebook(rulebook)
    numbers: dict[str, Amount | str] = {"kit": kit.name, "kit_depth": Amount(kit.depth_m, "m", "upper")}
    raised: list[str] = []
    if details.depth_m is not None:
        numbers["depth"] = Amount(details.depth_m, "m")
        if book.depth and details.depth_m > book.depth.si + _NOISE:
            numbers["greatest"] = Amount(book.depth.si, "m", "upper")
            raised.append("deeper-than-tables")
        elif details.depth_m > kit.depth_m + _NOISE:
            raised.append("deeper-than-kit")
    if book.by_table and not kit_meets_tables(kit, book):
        raised.append("kit-below-minima")
    if ground and ground.soil_type not in book.spacing:
        raised.append("type-c-shores")
    found = refusals(facts, tables, rulebook)
    return (*found, *(refusal(name, tables.rules.refusal[name], numbers, tables) for name in raised))


def facts_of(
    details: Details, row: GroundRow | None, ground: Ground | None, tables: Tables, rulebook: Rulebook
) -> dict[SizingFact, SizingValue]:
    """The facts that rules may name, as far as they were told."""
    book = tables.rulebook(rulebook)
    d = details
    return {
        "depth": _metres(d.depth_m),
        "width": _metres(d.width_m),
        "length": _metres(d.length_m),
        "soil": _soil_text(row),
        "soil_type": ground.soil_type if ground else None,
        "stands": row.stands if row else None,
        "face": d.face,
        "water": d.water,
        "ends": d.ends,
        "spoil": _metres(d.spoil_m),
        "spoil_short": _metres(None if d.spoil_m is None else book.spoil.si - d.spoil_m),
        "spoil_back": Amount(book.spoil.si, "m", "lower"),
        "plant": _metres(d.plant_m),
        "plant_clear": _metres(None if d.plant_m is None or d.depth_m is None else d.plant_m - d.depth_m),
        "traffic": _yes(d.traffic),
        "slab": _metres(d.pavement_m),
        "surcharge": None if d.surcharge_kpa is None else Amount(d.surcharge_kpa, "kPa"),
        "disturbed": _yes(d.disturbed),
        "fissured": _yes(d.fissured),
        "services": "told" if d.services else None,
        "services_unplaced": _yes(bool(d.services) and d.length_m is None),
        "type_told": _yes(row is not None and row.kind is None),
        "by_table": _yes(book.by_table),
    }


def _soil_text(row: GroundRow | None) -> str | None:
    if row is None:
        return None
    return " ".join(word for word in (row.state, row.kind) if word) or f"type {row.type} soil"


def _metres(value: Metre | None) -> Amount | None:
    return None if value is None else Amount(value, "m")


def _yes(value: bool | None) -> str | None:
    return None if value is None else "yes" if value else "no"
