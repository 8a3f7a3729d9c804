"""What an answer survives: one unit lost, and what its neighbours then carry."""

from knowledge.outcome import Survives
from knowledge.sheet import Sheet, formula
from knowledge.sizing.working import WorkedTrench
from knowledge.units import KiloNewton, Ratio


@formula(symbol="N_1", source="half of the lost unit's load to each of two neighbours")
def neighbour_load(N: KiloNewton) -> KiloNewton:
    """Load of a strut whose neighbour was lost."""
    return 1.5 * N


@formula(symbol="N_2", source="the load of a lost end unit falls on its one neighbour")
def end_neighbour_load(N: KiloNewton) -> KiloNewton:
    """Load of a strut beside a lost end unit."""
    return 2 * N


@formula(
    symbol="R_1",
    source="ground at failure; the strut no further than its working load, since no kit tells more",
)
def neighbour_capacity(R_b: KiloNewton, F_b: Ratio, R: KiloNewton) -> KiloNewton:
    """What ground and strut take before they give way."""
    return min(R_b * F_b, R)


def survives(worked: WorkedTrench, sheet: Sheet) -> Survives:
    """One unit lost between two others, and one at an end. The face may still fall there: everyone out."""
    sheet.part("One unit lost")
    load = sheet.work(neighbour_load, worked.load)
    factor = worked.face.case.tables.pressures.load_factor.si
    takes = sheet.work(neighbour_capacity, worked.shores.bearing.load, factor, worked.shores.capacity)
    sheet.check(
        "One unit lost", ("N_1", load), ("R_1", takes), "kN", "the face between may fall: everyone out"
    )
    end = sheet.work(end_neighbour_load, worked.load)
    return Survives(neighbour_kn=load, of_kn=takes, holds=load <= takes + 1e-9, end_kn=end)
