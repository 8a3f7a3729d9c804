"""What comes before any sizing: the facts that rules are asked about, what must be asked, what is refused."""

from knowledge.outcome import Refusal
from knowledge.reading import Details
from knowledge.sizing.beside import too_near, untold, watched
from knowledge.sizing.ground import Ground
from knowledge.sizing.pressure import depth_on_a_slope, rise
from knowledge.sizing.rules import SizingValue, refusal, refusals
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
        "water": row is not None and row.kind == "made ground" and details.water is None,
        "beside": untold(details),
        "plant_m": details.plant_t is not None and details.plant_m is None,
        # A street has a surface, and rails must not bear on it.
        "pavement_m": (_street(details) or bool(details.overhang_m)) and not _surfaced(details),
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
    if (depth := details.depth_m) is not None:
        if slope := rise(details, tables):
            depth = depth_on_a_slope(depth, slope)
        numbers["depth"] = Amount(depth, "m")
        if book.depth and depth > book.depth.si + _NOISE:
            numbers["greatest"] = Amount(book.depth.si, "m", "upper")
            raised.append("deeper-than-tables")
        elif depth > kit.depth_m + _NOISE:
            raised.append("deeper-than-kit")
        if (
            book.approved_from
            and depth >= book.approved_from.si - _NOISE
            and not (kit.table or kit.approved_by)
        ):
            numbers["from"] = Amount(book.approved_from.si, "m")
            raised.append("no-tabulated-data")
    if book.width and details.width_m is not None and details.width_m > book.width.si + _NOISE:
        numbers |= {"width": Amount(details.width_m, "m"), "widest": Amount(book.width.si, "m", "upper")}
        raised.append("wider-than-tables")
    if ground and ground.soil_type not in book.spacing:
        raised.append("type-c-shores")
    found = refusals(facts, tables, rulebook)
    near = [
        refusal(n.rule, tables.rules.refusal[n.rule], n.numbers, tables, rulebook)
        for n in too_near(details, ground, tables)
    ]
    others = (refusal(name, tables.rules.refusal[name], numbers, tables, rulebook) for name in raised)
    return (*found, *near, *others)


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
        "end_slope": None
        if ground is None or d.ends == "supported"
        else Amount(tables.practice.end_slope[ground.soil_type].si),
        "spoil": _metres(d.spoil_m),
        "spoil_short": _metres(None if d.spoil_m is None else book.spoil.si - d.spoil_m),
        "spoil_back": Amount(book.spoil.si, "m", "lower"),
        "plant": _metres(d.plant_m),
        "plant_clear": _metres(None if d.plant_m is None or d.depth_m is None else d.plant_m - d.depth_m),
        "plant_t": None if d.plant_t is None else Amount(d.plant_t, "t"),
        "traffic": _yes(True if _street(d) else d.traffic),
        "traffic_m": _metres(d.traffic_m),
        "pit": _yes(bool(d.pit)),
        "junction": _yes(bool(d.junction)),
        "squat": _yes(_squat(d, tables)),
        "watched": _watched(d, ground, tables),
        "clear": _yes(_clear(d, ground, tables)),
        "slab": _metres(d.pavement_m),
        "overhang": _metres(d.overhang_m),
        "surcharge": None if d.surcharge_kpa is None else Amount(d.surcharge_kpa, "kPa"),
        "disturbed": _yes(d.disturbed),
        "fissured": _yes(d.fissured),
        "dipping": _yes(d.dipping),
        "services": "told" if d.services else None,
        "services_unplaced": _yes(bool(d.services) and d.length_m is None),
        "type_told": _yes(row is not None and row.kind is None),
    }


def _surfaced(d: Details) -> bool:
    """Whether its surface is told; what overhangs is one, so that none is no answer then."""
    return d.pavement_m is not None and (d.pavement_m > 0 or not d.overhang_m)


def _street(d: Details) -> bool:
    """Whether traffic is told of, by itself or by its distance."""
    return d.traffic is True or d.traffic_m is not None


def _squat(d: Details, tables: Tables) -> bool | None:
    """Whether it is a pit by its measures: its end faces are as much face as its sides."""
    if d.length_m is None:
        return None
    short = d.width_m is not None and d.length_m < tables.practice.pit_length.si * d.width_m - _NOISE
    return short or (d.depth_m is not None and d.length_m < d.depth_m - _NOISE)


def _watched(d: Details, ground: Ground | None, tables: Tables) -> str | None:
    thing = watched(d, ground, tables)
    return thing.what if thing else None


def _clear(d: Details, ground: Ground | None, tables: Tables) -> bool:
    """Whether nothing is told to be inside the influence line."""
    near = d.plant_m is not None and d.depth_m is not None and d.plant_m <= d.depth_m
    moving = _street(d) or d.surcharge_kpa
    return not (near or moving or watched(d, ground, tables) or rise(d, tables))


def _soil_text(row: GroundRow | None) -> str | None:
    if row is None:
        return None
    return " ".join(word for word in (row.state, row.kind) if word) or f"type {row.type} soil"


def _metres(value: Metre | None) -> Amount | None:
    return None if value is None else Amount(value, "m")


def _yes(value: bool | None) -> str | None:
    return None if value is None else "yes" if value else "no"
