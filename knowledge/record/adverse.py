"""What counts of a text that was not wholly understood: only what changes the record for the worse.

Words are left over that may turn its meaning ("all units set less one"): what would help entry waits until
it is told anew, what speaks against it is taken at once.
"""

from typing import Any

from knowledge.reading import TAKING, Details, Reading, UnitsSet
from knowledge.record.described import weaker
from knowledge.record.plan_changes import LOOSER, WETTER
from knowledge.record.set_shores import Bands, SetShores
from knowledge.record.state import TrenchState
from knowledge.tables.load import Tables

_AS_TOLD = ("trench", "undone", "hazards", "possible_hazard", "danger", "questions", "left_over")


def adverse(state: TrenchState, reading: Reading, tables: Tables) -> Reading:
    """The part of `reading` that stands against entry to a trench as it is in `state`; all else untold.

    The details of a sizing message all count, since it is answered from them.
    """
    worse = _details(reading) if reading.purpose == "size" else _worse(state, reading, tables)
    kept: dict[str, Any] = {name: getattr(reading, name) for name in _AS_TOLD} | worse
    kept["purpose"] = "report" if reading.purpose == "close" else reading.purpose
    kept["moved"] = reading.moved if reading.moved and reading.moved.how in TAKING else None
    kept["verdict"] = "not safe" if reading.verdict == "not safe" else None
    kept["gauges"] = state.shores.adverse(reading, state.dug_m, Bands.of(state.plan, tables.entry))
    if "units out" in reading.done or "units set" in reading.undone:
        kept["done"] = tuple(done for done in reading.done if done == "units out")
        kept["units_set"] = reading.units_set
    elif reading.units_set and _fewer(state.shores, reading.units_set):
        kept["undone"] = (*reading.undone, "units set")
        kept["units_set"] = UnitsSet(level=reading.units_set.level)
    return Reading(**kept)


def stands_against(state: TrenchState, reading: Reading, tables: Tables) -> bool:
    """Whether any part of `reading` stands against entry to a trench as it is in `state`."""
    kept = adverse(state, reading, tables)
    only = ("trench", "questions", "left_over", "danger")
    return kept != Reading(purpose=kept.purpose, **{name: getattr(kept, name) for name in only})


def _details(reading: Reading) -> dict[str, Any]:
    return {name: getattr(reading, name) for name in Details.model_fields}


def _worse(state: TrenchState, reading: Reading, tables: Tables) -> dict[str, Any]:
    """The details that are worse than those told. What was never told has nothing to be worse than, and stays
    untold, except for loads and openings, which nobody has to tell."""
    old, new, depth = state.details, _details(reading), state.depth_m
    dug = depth if state.dug_m is None else state.dug_m
    near = {
        "spoil_m": max(
            rule.limit.si for rule in tables.entry.fact.values() if rule.fact == "spoil" and rule.limit
        ),
        "plant_m": float("inf") if depth is None else depth,
    }
    known = set(old.services)
    counts = {
        "depth_m": "backfill" not in reading.done and _more(new["depth_m"], dug),
        "width_m": _more(new["width_m"], old.width_m),
        "length_m": _more(new["length_m"], old.length_m),
        "pavement_m": _more(new["pavement_m"], old.pavement_m or 0.0),
        "overhang_m": _more(new["overhang_m"], old.overhang_m or 0.0),
        "surcharge_kpa": _more(new["surcharge_kpa"], old.surcharge_kpa or 0.0),
        "soil": bool(new["soil"] and old.soil and weaker(old.soil, new["soil"], tables.soils)),
        "water": WETTER[new["water"]] > WETTER[old.water],
        "face": LOOSER[new["face"]] > LOOSER[old.face],
        "ends": new["ends"] == "open",
        **{name: _nearer(new[name], getattr(old, name), limit) for name, limit in near.items()},
        "traffic_m": _nearer(new["traffic_m"], old.traffic_m, 0.0),
        "plant_t": new["plant_t"] is not None and new["plant_t"] > (old.plant_t or 0.0),
        **{
            name: new[name] is True
            for name in ("traffic", "disturbed", "fissured", "dipping", "pit", "junction")
        },
    }
    met = tuple(service for service in reading.services if service not in known)
    beside = tuple(each for each in reading.beside if each not in old.beside)
    return {name: new[name] for name, so in counts.items() if so} | {"services": met, "beside": beside}


def _more(told: float | None, known: float | None) -> bool:
    return told is not None and known is not None and told > known


def _nearer(told: float | None, known: float | None, limit: float) -> bool:
    return told is not None and (told < limit or (known is not None and told < known))


def _fewer(shores: SetShores, told: UnitsSet) -> bool:
    """Whether fewer units are told set, in all or of a level, than are on record."""
    if told.n is None:
        return False
    if told.level and told.level <= len(shores.layout):
        index = told.level - 1
        return told.n < max(shores.counts[index], (shores.layout[index].units or 0) * shores.level_set(index))
    return told.n < shores.standing
