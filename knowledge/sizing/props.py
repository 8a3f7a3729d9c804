"""A hard surface that overhangs is propped: units of its own, rails level, hold its edges apart.

Where the ground under the edge of a slab or kerb has gone, no rail below bears on it, and what hangs there
comes down into the trench. Its edges are held by units at half of its thickness, no further apart than those
below. As a load each takes what presses on the face, over the thickness of the surface; they carry nothing
that stands or drives on it. Common practice, no source.
"""

from knowledge.outcome import Props, Strut
from knowledge.sheet import Scratch, Sheet
from knowledge.sizing.row import Run, row
from knowledge.sizing.shores import capacity_at
from knowledge.sizing.strut import strut_load
from knowledge.sizing.working import NotHeld, WorkedTrench
from knowledge.tables.kit import Combination
from knowledge.units import Amount, KiloNewton, Metre

_NOISE = 1e-9


def props(worked: WorkedTrench, length: Metre, sheet: Sheet) -> Props | NotHeld | None:
    """The props over so long a run; None where nothing is told to overhang."""
    case, found = worked.face.case, worked.shores
    overhang, thick = case.details.overhang_m, case.details.pavement_m
    if not overhang or not thick:
        return None
    kit, rail = case.kit, case.kit.rail
    if kit.turned is None:
        return NotHeld("props-not-by-kit", {})
    sheet.part("Props of the surface that overhangs")
    said = "How far the surface overhangs, both sides together"
    between = worked.width - sheet.given("o_s", overhang, "m", "told", said)
    sheet.given("B_s", between, "m", "B - o_s", "Width between the edges of the surface")
    needed = round(between - 2 * rail.thickness_m, 6)
    sheet.given("L_pr", needed, "m", "B_s, less two rails", "Length of the strut of a prop")
    load = strut_load.named(symbol="N_pr", said="Load of a prop", h="t_s")
    N = sheet.work(load, worked.pressure.kpa, found.spacing, thick)
    places = _places(length, found.spacing, rail.length_m)
    fitting = [(c, R) for c, R in _fitting(worked, needed) if N <= R + _NOISE]
    if not places or not fitting:
        ends = [(c.least_m, c.greatest_m) for c in kit.combinations]
        least, most = min(a for a, _ in ends), max(b for _, b in ends)
        room = 2 * rail.thickness_m
        numbers = {"between": between, "least": least + room, "greatest": most + room}
        return NotHeld("props-do-not-fit", {name: Amount(value, "m") for name, value in numbers.items()})
    chosen, R = min(fitting, key=lambda each: each[0].mass_kg)
    sheet.given("R_pr", R, "kN", "worked as R, at this length", "What the strut of a prop may carry")
    sheet.check("Load of a prop", ("N_pr", N), ("R_pr", R), "kN", "the surface as told")
    untold = case.details.length_m is None
    return Props(
        depth_m=round(thick / 2, 3),
        units=None if untold else len(places),
        units_per_run=len(places) if untold else None,
        positions_m=None if untold else places,
        strut=Strut(
            size=chosen.size.name,
            extensions_m=chosen.extensions_m,
            length_m=(chosen.least_m, chosen.greatest_m),
            needed_m=needed,
            capacity_kn=R,
            load_kn=N,
        ),
    )


def _places(length: Metre, spacing: Metre, rail: Metre) -> tuple[Metre, ...]:
    """Where they stand, their rails end to end at the closest; none where that is too far apart."""
    if rail > spacing:
        return ()
    end = spacing / 2
    return row(Run(length, spacing, end, end, least_m=rail, margin_m=rail / 2)).positions_m


def still_fit(worked: WorkedTrench, told: Props, width: Metre) -> bool:
    """Whether the struts of the props as told would do in a trench of this width, the overhang the same."""
    needed = told.strut.needed_m + width - worked.width
    low, high = told.strut.length_m
    return low - _NOISE <= needed <= high + _NOISE


def carried(worked: WorkedTrench, told: Props) -> bool:
    """Whether the props as told carry what presses on them in this trench."""
    thick = worked.face.case.details.pavement_m or 0.0
    load = strut_load(worked.pressure.kpa, worked.shores.spacing, thick)
    return load <= told.strut.capacity_kn + _NOISE


def _fitting(worked: WorkedTrench, needed: Metre) -> list[tuple[Combination, KiloNewton]]:
    """Each combination that can be set to that length, with what it carries there."""
    case = worked.face.case
    fit = [c for c in case.kit.combinations if c.least_m - _NOISE <= needed <= c.greatest_m + _NOISE]
    return [(c, capacity_at(c.size, needed, case.kit, case.tables, Scratch())) for c in fit]
