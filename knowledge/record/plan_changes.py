"""What no longer fits the plan: the trench as told now against the trench that was sized."""

from collections.abc import Iterator
from dataclasses import dataclass

from knowledge.outcome import Sized
from knowledge.reading import Details, Face, Water
from knowledge.units import Metre

WETTER: dict[Water | None, int] = {None: 0, "dry": 0, "damp": 0, "seeping": 1, "standing": 2}
LOOSER: dict[Face | None, int] = {None: 0, "stands": 0, "ravelling": 1, "running": 2}


@dataclass(frozen=True, slots=True)
class PlanChange:
    """One thing that the plan was not worked for; `found` and `planned` in metres where it has a measure."""

    what: str
    found: Metre | None = None
    planned: Metre | None = None


def changes(plan: Sized, planned: Details, told: Details, tape: Metre) -> tuple[PlanChange, ...]:
    """All that makes `plan` void, worst first. `tape` is how closely a length is measured.

    A better trench than planned (shallower, drier, spoil further back) keeps its plan; a different width or
    soil never does, since the strut fits one width and "better" soil may be a mistake.
    """
    return tuple(_changes(plan, planned, told, tape))


def _changes(plan: Sized, planned: Details, told: Details, tape: Metre) -> Iterator[PlanChange]:
    full = plan.stages_m[-1]
    if told.depth_m is not None and told.depth_m > full + tape:
        yield PlanChange("depth", told.depth_m, full)
    if told.soil != planned.soil:
        yield PlanChange("soil")
    if told.width_m is None:
        yield PlanChange("refused")
    elif _differs(told.width_m, planned.width_m, tape):
        yield PlanChange("width", told.width_m, planned.width_m)
    if told.length_m is not None and planned.length_m is not None and told.length_m > planned.length_m + tape:
        yield PlanChange("length", told.length_m, planned.length_m)
    if WETTER[told.water] > WETTER[planned.water]:
        yield PlanChange("water")
    if LOOSER[told.face] > LOOSER[planned.face]:
        yield PlanChange("face")
    if (told.pit and not planned.pit) or (told.junction and not planned.junction):
        yield PlanChange("face")
    if _heavier(planned, told, full):
        yield PlanChange("load")
    if (told.pavement_m or 0.0) > (planned.pavement_m or 0.0) + tape:
        yield PlanChange("slab")
    if (told.overhang_m or 0.0) > (planned.overhang_m or 0.0) + tape:
        yield PlanChange("overhang")
    if set(told.services) - set(planned.services):
        yield PlanChange("services")


def _differs(a: Metre, b: Metre | None, tape: Metre) -> bool:
    return b is None or abs(a - b) > tape


def _heavier(planned: Details, told: Details, depth: Metre) -> bool:
    """More weight or shaking beside the trench, or ground more broken, than was planned for.

    A load nearer than the trench is deep bears on its face (29 CFR 1926 Subpart P App C, "adjacent").
    """
    plant_nearer = (
        told.plant_m is not None
        and told.plant_m < depth
        and (planned.plant_m is None or told.plant_m < planned.plant_m)
    )
    spoil_nearer = told.spoil_m is not None and planned.spoil_m is not None and told.spoil_m < planned.spoil_m
    traffic_nearer = told.traffic_m is not None and (
        planned.traffic_m is None or told.traffic_m < planned.traffic_m
    )
    plant_heavier = told.plant_t is not None and (planned.plant_t is None or told.plant_t > planned.plant_t)
    return (
        plant_nearer
        or spoil_nearer
        or traffic_nearer
        or plant_heavier
        or bool(set(told.beside) - set(planned.beside))
        or (told.surcharge_kpa or 0.0) > (planned.surcharge_kpa or 0.0)
        or any(
            getattr(told, name) and getattr(planned, name) is not True
            for name in ("traffic", "disturbed", "fissured", "dipping")
        )
    )
