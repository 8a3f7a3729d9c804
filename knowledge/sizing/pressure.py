"""What the ground does: lateral pressure with its surcharge, standing height, base."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import radians, sqrt, tan

from knowledge.reading import Details
from knowledge.sheet import Sheet, formula
from knowledge.sizing import surcharge
from knowledge.sizing.ground import Ground
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import Pressures, RulebookTable
from knowledge.units import Degree, KiloPascal, KnPerM3, Metre, Ratio


@formula(symbol="K_a", source="Rankine; UFC 3-220-20 eq. 4-3")
def rankine(φ: Degree) -> Ratio:
    """Active earth pressure coefficient, level ground and smooth vertical face."""
    return tan(radians(45 - φ / 2)) ** 2


@formula(symbol="N_s", source="Terzaghi and Peck")
def stability_number(γ: KnPerM3, H: Metre, c_u: KiloPascal) -> Ratio:
    """Stability number of a cut in clay."""
    return γ * H / c_u


@formula(symbol="K", source="Peck 1969; not less than Caltrans 8-3-3")
def soft_coefficient(m: Ratio, c_u: KiloPascal, γ: KnPerM3, H: Metre, K_min: Ratio) -> Ratio:
    """Coefficient of the envelope for soft to medium clay."""
    return max(K_min, 1 - m * 4 * c_u / (γ * H))


@formula(symbol="p_1", source="29 CFR 1926 Subpart P App C, table headings")
def fluid_pressure(w_e: KnPerM3, H: Metre, p_qf: KiloPascal) -> KiloPascal:
    """Lateral pressure of soil taken as a heavy fluid, plus surcharge pressure."""
    return w_e * H + p_qf


@formula(symbol="p_2", source="Terzaghi and Peck, sand; from cuts over 6 m, here a rectangle")
def sand_pressure(f: Ratio, K_a: Ratio, γ: KnPerM3, H: Metre, p_s: KiloPascal) -> KiloPascal:
    """Apparent pressure for struts in sand, uniform over the depth, plus surcharge pressure."""
    return f * K_a * γ * H + p_s


@formula(symbol="p_2", source="Terzaghi and Peck, clay; from cuts over 6 m, here a rectangle")
def clay_pressure(f: Ratio, γ: KnPerM3, H: Metre, p_s: KiloPascal) -> KiloPascal:
    """Apparent pressure for struts in clay, at its greatest over the whole depth, plus surcharge pressure."""
    return f * γ * H + p_s


@formula(symbol="p_3", source="BS 8002:1994, minimum equivalent fluid, plus surcharge pressure")
def least_pressure(w_min: KnPerM3, H: Metre, p_s: KiloPascal) -> KiloPascal:
    """The least pressure that may be designed for."""
    return w_min * H + p_s


@formula(symbol="p", source="the most onerous envelope")
def most_onerous(p_1: KiloPascal, p_2: KiloPascal, p_3: KiloPascal) -> KiloPascal:
    """Design pressure."""
    return max(p_1, p_2, p_3)


@formula(symbol="z_q", source="strip formula, where its slope over depth is nought")
def strip_worst_depth(x_1: Metre, x_2: Metre) -> Metre:
    """How deep a strip load from `x_1` to `x_2` off the face presses most (doubled elastic strip)."""
    return sqrt((x_1 * x_2) ** 1.5 / (x_1 + sqrt(x_1 * x_2) + x_2))


@formula(symbol="w_h", source="practice: as wide as holds all that is dug, and not narrower than a heap is")
def heap_base(γ: KnPerM3, H: Metre, B: Metre, q_h: KiloPascal, w_least: Metre) -> Metre:
    """Width of the base of the spoil heap."""
    return max(w_least, γ * H * B / q_h)


@formula(symbol="p_B", source="loads on one side add up, of two sides the greater counts")
def beside(p_h: KiloPascal, p_b: KiloPascal, p_o: KiloPascal) -> KiloPascal:
    """Pressure of what is beside the trench: heap, loads beyond it on its side, loads on the other side."""
    return max(p_h + p_b, p_o)


@formula(symbol="p_qf", source="29 CFR 1926 Subpart P App C: its own 72 psf, or what is beside the trench")
def with_fluid(p_72: KiloPascal, p_q: KiloPascal, p_L: KiloPascal) -> KiloPascal:
    """Surcharge of the fluid envelope; a stated load comes on top."""
    return max(p_72, p_q) + p_L


@formula(symbol="p_s", source="FHWA GEC 4: K q; strips by elastic theory")
def with_apparent(K_a: Ratio, q: KiloPascal, p_q: KiloPascal, p_L: KiloPascal) -> KiloPascal:
    """Surcharge of the other envelopes: least surface load or what is beside; a stated load comes on top."""
    return max(K_a * q, p_q) + p_L


@formula(symbol="H_p", source="29 CFR 1926 Subpart P App D (d)(3)(ii)(C): ground that rises from the edge")
def depth_on_a_slope(H: Metre, n: Ratio) -> Metre:
    """Depth that presses where the ground rises from the edge by one in `n`."""
    return H * (1 + 1 / n)


@formula(symbol="h_s", source="Terzaghi 1943, open tension crack, over a factor of safety")
def standing_height(f: Ratio, c_u: KiloPascal, q: KiloPascal, γ: KnPerM3, F_h: Ratio) -> Metre:
    """How high a bare vertical face in clay may be left for a short time."""
    return (f * c_u - q) / γ / F_h


@formula(symbol="N_cb", source="Bjerrum and Eide 1956; Skempton 1951 table")
def base_factor(N_strip: Ratio, N_square: Ratio, B: Metre, L: Metre) -> Ratio:
    """Bearing factor against heave, between a long trench and a square one."""
    return N_strip + (N_square - N_strip) * B / L


@formula(symbol="FoS_b", source="Bjerrum and Eide 1956: N_cb has the sides inside it, no side shear is added")
def base_safety(N_cb: Ratio, c_u: KiloPascal, γ: KnPerM3, H: Metre, q: KiloPascal) -> Ratio:
    """Factor of safety against heave of the bottom."""
    return N_cb * c_u / (γ * H + q)


@dataclass(frozen=True, slots=True)
class Pressure:
    """Design pressure as a rectangle over the depth, and the envelope that gave it."""

    kpa: KiloPascal
    by: str


def design_pressure(
    ground: Ground, H: Metre, B: Metre, details: Details, tables: Tables, book: RulebookTable, sheet: Sheet
) -> Pressure:
    """The most onerous of the published envelopes (fluid by type, apparent pressure, minimum fluid)."""
    rows = tables.pressures
    if slope := rise(details, tables):
        H = sheet.work(depth_on_a_slope, H, slope)
    fluid, least = rows.fluid[ground.soil_type], rows.surcharge_least
    sheet.given(
        "w_e", fluid.si, "kN/m3", tables.source(fluid), f"Equivalent fluid of type {ground.soil_type}"
    )
    sheet.given("q", least.si, "kPa", tables.source(least), "Least load on the surface")
    K_a = sheet.work(rankine, ground.friction)
    near = _beside(ground, H, B, details, rows, book, sheet)
    load = _load(K_a, H, details, rows, sheet)
    p_qf = sheet.work(with_fluid, rows.fluid_surcharge.si, near, load)
    p_s = sheet.work(with_apparent, K_a, rows.surcharge_least.si, near, load)
    p_1 = sheet.work(fluid_pressure, rows.fluid[ground.soil_type].si, H, p_qf)
    p_2 = _apparent(ground, H, K_a, p_s, rows, sheet)
    p_3 = sheet.work(least_pressure, rows.fluid_least.si, H, p_s) if book.fluid_least else 0.0
    p = sheet.work(most_onerous, p_1, p_2, p_3)
    by = {p_3: "minimum fluid", p_2: "apparent pressure", p_1: "equivalent fluid"}
    return Pressure(p, by[p])


def rise(details: Details, tables: Tables) -> Ratio | None:
    """The steepest rise of the ground beside the trench, as one in so many; None where it is flat."""
    flat = tables.practice.slope_flat.si
    told = [b.one_in for b in details.beside if b.what in ("slope", "embankment") and b.one_in is not None]
    return min((n for n in told if n < flat), default=None)


def _apparent(ground: Ground, H: Metre, K_a: Ratio, p_s: KiloPascal, rows: Pressures, sheet: Sheet) -> float:
    if ground.strength is None:
        return sheet.work(sand_pressure, rows.sand_factor.si, K_a, ground.weight, H, p_s)
    f = (rows.stiff_factor if ground.intact else rows.stiff_factor_disturbed).si
    stiff = sheet.work(clay_pressure, f, ground.weight, H, p_s)
    if sheet.work(stability_number, ground.weight, H, ground.strength) <= rows.stiff_up_to.si:
        return stiff
    # Above N = 6 the soft envelope alone would at first be the lower: the larger keeps pressure from falling.
    K = sheet.work(soft_coefficient, rows.soft_m.si, ground.strength, ground.weight, H, rows.soft_k_least.si)
    return max(stiff, sheet.work(clay_pressure, K, ground.weight, H, p_s))


def _beside(
    ground: Ground,
    H: Metre,
    B: Metre,
    details: Details,
    rows: Pressures,
    book: RulebookTable,
    sheet: Sheet,
) -> KiloPascal:
    """Pressure of the spoil heap, of live traffic and of plant.

    A heap nobody told of lies where the rulebook lets it. Nobody tells on which side a thing is: what would
    lie over the heap is either beyond it or on the other side.
    """
    near = book.spoil.si if details.spoil_m is None else details.spoil_m
    base = sheet.work(heap_base, ground.weight, H, B, rows.heap.si, rows.heap_width.si)
    heap = _strip(rows.heap.si, near, near + base, H, sheet)
    others = list(_moving(H, details, rows))
    if not others:
        return heap
    here = sum(_strip(q, x, x + wide, H, sheet) for q, x, wide in others)
    beyond = ((q, max(x, near + base), wide) for q, x, wide in others)
    return sheet.work(beside, heap, sum(_strip(q, x, x + w, H, sheet) for q, x, w in beyond), here)


def _moving(H: Metre, details: Details, rows: Pressures) -> Iterator[tuple[KiloPascal, Metre, Metre]]:
    """Load, near edge and width of live traffic and of plant inside the influence line."""
    if details.traffic or details.traffic_m is not None:
        near = rows.lane_untold.si if details.traffic_m is None else details.traffic_m
        yield rows.lane.si, near, rows.lane_width.si
    if details.plant_m is not None and details.plant_t is not None and details.plant_m <= H:
        row = next((row for row in rows.plant if details.plant_t <= row.up_to.si), rows.plant[-1])
        yield row.load.si, details.plant_m, row.width.si


def _load(K_a: Ratio, H: Metre, details: Details, rows: Pressures, sheet: Sheet) -> KiloPascal:
    """Pressure of a stated load: an even one, or a strip where its distance is told and that is more."""
    q = details.surcharge_kpa
    if not q:
        return 0.0
    even = sheet.work(surcharge.uniform, K_a, q)
    near = details.plant_m
    if near is None:
        return even
    return max(even, _strip(q, near, near + rows.plant[0].width.si, H, sheet))


def _strip(q: KiloPascal, x_1: Metre, x_2: Metre, H: Metre, sheet: Sheet) -> KiloPascal:
    """Greatest pressure of a strip load over a face `H` high."""
    deepest = sheet.work(strip_worst_depth, x_1, x_2)
    return sheet.work(surcharge.strip, q, x_1, x_2, min(H, max(deepest, 0.001)))


def surface_load(details: Details, tables: Tables) -> KiloPascal:
    """Load on the surface beside the trench: the least that is always taken, and any that was stated."""
    return tables.pressures.surcharge_least.si + (details.surcharge_kpa or 0.0)


def base_bearing(H: Metre, B: Metre, L: Metre | None, rows: Pressures, sheet: Sheet) -> Ratio:
    """Bearing factor for base heave: between the rows of the table; a trench of unknown length is long."""
    ratio = min(H / B, rows.base_n_c[-1].ratio)
    a, b = next((a, b) for a, b in pairwise(rows.base_n_c) if ratio <= b.ratio)
    share = (ratio - a.ratio) / (b.ratio - a.ratio)
    strip = a.strip + (b.strip - a.strip) * share
    if L is None:
        return sheet.given(
            "N_cb",
            strip,
            "",
            "Bjerrum and Eide 1956; Skempton 1951 table, long trench",
            "Bearing factor against heave",
        )
    square = a.square + (b.square - a.square) * share
    return sheet.work(base_factor, strip, square, B, max(L, B))
