"""What the ground does: lateral pressure with its surcharge, standing height, base."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import radians, sqrt, tan

from knowledge.reading import Details
from knowledge.sheet import Formula, Sheet, formula
from knowledge.sizing import surcharge
from knowledge.sizing.ground import Ground
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import Pressures, RulebookTable
from knowledge.units import Degree, KiloPascal, KnPerM3, Metre, Ratio

_AT_SURFACE = 0.001  # metres: the strip formula divides by the depth


@formula(symbol="K_a", source="Rankine", us="Rankine; UFC 3-220-20 eq. 4-3")
def rankine(φ: Degree) -> Ratio:
    """Active earth pressure coefficient, level ground and smooth vertical face."""
    return tan(radians(45 - φ / 2)) ** 2


@formula(symbol="N_s", source="Terzaghi and Peck")
def stability_number(γ: KnPerM3, H: Metre, c_u: KiloPascal) -> Ratio:
    """Stability number of a cut in clay."""
    return γ * H / c_u


@formula(symbol="K", source="Peck 1969", us="Peck 1969; not less than Caltrans 8-3-3")
def soft_coefficient(m: Ratio, c_u: KiloPascal, γ: KnPerM3, H: Metre, K_min: Ratio) -> Ratio:
    """Coefficient of the envelope for soft to medium clay."""
    return max(K_min, 1 - m * 4 * c_u / (γ * H))


@formula(
    symbol="p_1",
    source="29 CFR 1926 Subpart P App C, table headings [US; none in the UK for trenches this shallow]",
    us="29 CFR 1926 Subpart P App C, table headings",
)
def fluid_pressure(w_e: KnPerM3, H: Metre, p_qf: KiloPascal) -> KiloPascal:
    """Pressure of soil taken as a heavy fluid, plus surcharge."""
    return w_e * H + p_qf


@formula(symbol="p_2", source="Terzaghi and Peck, sand; from cuts over 6 m, here a rectangle")
def sand_pressure(f_s: Ratio, K_a: Ratio, γ: KnPerM3, H: Metre, p_s: KiloPascal) -> KiloPascal:
    """Apparent pressure of sand on struts, plus surcharge."""
    return f_s * K_a * γ * H + p_s


@formula(
    symbol="p_2",
    source="Terzaghi and Peck, clay: at its greatest over the whole depth, a rectangle; from cuts over 6 m",
)
def clay_pressure(f_a: Ratio, γ: KnPerM3, H: Metre, p_s: KiloPascal) -> KiloPascal:
    """Apparent pressure of clay on struts, plus surcharge."""
    return f_a * γ * H + p_s


@formula(symbol="p_3", source="CIRIA C760, minimum equivalent fluid, plus surcharge pressure")
def least_pressure(w_min: KnPerM3, H: Metre, p_s: KiloPascal) -> KiloPascal:
    """Least pressure designed for."""
    return w_min * H + p_s


@formula(symbol="p_2", source="Peck 1969: between stiff and soft the larger of both")
def larger_envelope(p_2a: KiloPascal, p_2s: KiloPascal) -> KiloPascal:
    """Apparent pressure for struts in clay."""
    return max(p_2a, p_2s)


@formula(symbol="p", source="the most onerous envelope")
def most_onerous(p_1: KiloPascal, p_2: KiloPascal, p_3: KiloPascal) -> KiloPascal:
    """Design pressure."""
    return max(p_1, p_2, p_3)


@formula(symbol="x_2", source="from its near edge, as wide as it is")
def far_edge(x_1: Metre, w: Metre) -> Metre:
    """Far edge of a load beside the trench."""
    return x_1 + w


@formula(
    symbol="z_q", source="strip formula, where its slope over depth is nought; no deeper than the trench"
)
def strip_worst_depth(x_1: Metre, x_2: Metre, H: Metre) -> Metre:
    """How deep a strip load from `x_1` to `x_2` off the face presses most (doubled elastic strip)."""
    return min(H, sqrt((x_1 * x_2) ** 1.5 / (x_1 + sqrt(x_1 * x_2) + x_2)))


@formula(symbol="w_h", source="practice: as wide as holds all that is dug, and not narrower than a heap is")
def heap_base(γ: KnPerM3, H: Metre, B: Metre, q_h: KiloPascal, w_0: Metre) -> Metre:
    """Width of the base of the spoil heap."""
    return max(w_0, γ * H * B / q_h)


@formula(symbol="p_B", source="loads on one side add up, of two sides the greater counts")
def beside(p_h: KiloPascal, p_b: KiloPascal, p_o: KiloPascal) -> KiloPascal:
    """Pressure of what is beside the trench: heap, loads beyond it on its side, loads on the other side."""
    return max(p_h + p_b, p_o)


@formula(symbol="p_12", source="loads on one side add up")
def together(p_1st: KiloPascal, p_2nd: KiloPascal) -> KiloPascal:
    """Pressure of two loads on one side of the trench."""
    return p_1st + p_2nd


@formula(
    symbol="p_qf",
    source="29 CFR 1926 Subpart P App C: its own 72 psf, or what is beside the trench [US; goes with p_1]",
    us="29 CFR 1926 Subpart P App C: its own 72 psf, or what is beside the trench",
)
def with_fluid(p_72: KiloPascal, p_q: KiloPascal, p_L: KiloPascal) -> KiloPascal:
    """Surcharge of the fluid envelope; a stated load comes on top."""
    return max(p_72, p_q) + p_L


@formula(
    symbol="p_s",
    source="Rankine: K q; strips by elastic theory",
    us="FHWA GEC 4: K q; strips by elastic theory",
)
def with_apparent(K_a: Ratio, q_0: KiloPascal, p_q: KiloPascal, p_L: KiloPascal) -> KiloPascal:
    """Surcharge of the other envelopes: least surface load or what is beside; a stated load comes on top."""
    return max(K_a * q_0, p_q) + p_L


@formula(symbol="p_L", source="an even load, or a strip where that is more")
def stated_load(p_Le: KiloPascal, p_Ls: KiloPascal) -> KiloPascal:
    """Pressure of the load stated beside the trench."""
    return max(p_Le, p_Ls)


@formula(symbol="q", source="the least that is always taken, and what was stated on top")
def on_the_surface(q_0: KiloPascal, q_L: KiloPascal) -> KiloPascal:
    """Load on the surface beside the trench."""
    return q_0 + q_L


@formula(
    symbol="H_p",
    source="common practice: ground that rises from the edge counts as depth",
    us="29 CFR 1926 Subpart P App D (d)(3)(ii)(C): ground that rises from the edge",
)
def depth_on_a_slope(H: Metre, n_s: Ratio) -> Metre:
    """Depth that presses where the ground rises from the edge by one in `n_s`."""
    return H * (1 + 1 / n_s)


@formula(symbol="h_s", source="Terzaghi 1943, open tension crack, over a factor of safety")
def standing_height(f_h: Ratio, c_u: KiloPascal, q: KiloPascal, γ: KnPerM3, F_h: Ratio) -> Metre:
    """Height that a bare face may be left for a short time."""
    return (f_h * c_u - q) / γ / F_h


@formula(symbol="N_cb", source="Bjerrum and Eide 1956; Skempton 1951 table")
def base_factor(N_strip: Ratio, N_square: Ratio, B: Metre, L_t: Metre) -> Ratio:
    """Bearing factor against heave, between a long trench and a square one."""
    return N_strip + (N_square - N_strip) * B / L_t


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
    rows, deep, dug = tables.pressures, "H", H
    sheet.part("Pressure of the ground")
    if slope := rise(details, tables):
        sheet.given("n_s", slope, "", "told", "The ground rises from the edge by one in so many")
        H, deep = sheet.work(depth_on_a_slope, H, slope), "H_p"
    q_0 = sheet.figure("q_0", rows.surcharge_least, "Least load on the surface beside the trench")
    K_a = sheet.work(rankine, ground.friction)
    near, p_q = _beside(ground, H, dug, B, details, rows, book, sheet, deep)
    load = _load(K_a, H, details, rows, sheet, deep)
    p_72 = sheet.figure("p_72", rows.fluid_surcharge, "Surcharge pressure that App C has within it")
    p_qf = sheet.work(with_fluid.named(p_q=p_q), p_72, near, load)
    p_s = sheet.work(with_apparent.named(p_q=p_q), K_a, q_0, near, load)
    w_e = sheet.figure("w_e", rows.fluid[ground.soil_type], f"Equivalent fluid of type {ground.soil_type}")
    p_1 = sheet.work(fluid_pressure.named(H=deep), w_e, H, p_qf)
    p_2 = _apparent(ground, H, K_a, p_s, rows, sheet, deep)
    if book.fluid_least:
        w_min = sheet.figure("w_min", rows.fluid_least, "Least equivalent fluid")
        p_3 = sheet.work(least_pressure.named(H=deep), w_min, H, p_s)
    else:
        p_3 = sheet.given("p_3", 0.0, "kPa", "this rulebook sets none", "Least pressure designed for")
    p = sheet.work(most_onerous, p_1, p_2, p_3)
    by = {p_3: "minimum fluid", p_2: "apparent pressure", p_1: "equivalent fluid"}
    return Pressure(p, by[p])


def rise(details: Details, tables: Tables) -> Ratio | None:
    """The steepest rise of the ground beside the trench, as one in so many; None where it is flat."""
    flat = tables.practice.slope_flat.si
    told = [b.one_in for b in details.beside if b.what in ("slope", "embankment") and b.one_in is not None]
    return min((n for n in told if n < flat), default=None)


def _apparent(
    ground: Ground, H: Metre, K_a: Ratio, p_s: KiloPascal, rows: Pressures, sheet: Sheet, deep: str
) -> float:
    if ground.strength is None:
        f_s = sheet.figure("f_s", rows.sand_factor, "Share of K_a γ H taken by struts in sand")
        return sheet.work(sand_pressure.named(H=deep), f_s, K_a, ground.weight, H, p_s)
    f = rows.stiff_factor if ground.intact else rows.stiff_factor_disturbed
    f_a = sheet.figure("f_a", f, "Share of γ H taken by struts in clay")
    N_u = sheet.figure("N_u", rows.stiff_up_to, "Stability number up to which that holds alone")
    if sheet.work(stability_number.named(H=deep), ground.weight, H, ground.strength) <= N_u:
        return sheet.work(clay_pressure.named(H=deep), f_a, ground.weight, H, p_s)
    # Above N = 6 the soft envelope alone would at first be the lower: the larger keeps pressure from falling.
    stiff = sheet.work(clay_pressure.named(symbol="p_2a", H=deep), f_a, ground.weight, H, p_s)
    m = sheet.figure("m", rows.soft_m, "Factor of the envelope for soft clay")
    K_min = sheet.figure("K_min", rows.soft_k_least, "Least coefficient of that envelope")
    K = sheet.work(soft_coefficient.named(H=deep), m, ground.strength, ground.weight, H, K_min)
    soft = clay_pressure.named(symbol="p_2s", said="The same by the envelope for soft clay", f_a="K", H=deep)
    return sheet.work(larger_envelope, stiff, sheet.work(soft, K, ground.weight, H, p_s))


def _beside(
    ground: Ground,
    H: Metre,
    dug: Metre,
    B: Metre,
    details: Details,
    rows: Pressures,
    book: RulebookTable,
    sheet: Sheet,
    deep: str,
) -> tuple[KiloPascal, str]:
    """Pressure of the spoil heap, of live traffic and of plant, and its symbol.

    A heap nobody told of lies where the rulebook lets it. Nobody tells on which side a thing is: what would
    lie over the heap is either beyond it or on the other side.
    """
    if details.spoil_m is None:
        near = sheet.figure("x_h", book.spoil, "Foot of the spoil heap from the edge, nobody told of it")
    else:
        near = sheet.given("x_h", details.spoil_m, "m", "told", "Foot of the spoil heap from the edge")
    w_0 = sheet.figure("w_0", rows.heap_width, "Least width of a spoil heap")
    q_h = sheet.figure("q_h", rows.heap, "Load of the spoil heap on its base")
    of_heap = heap_base
    if ground.heap > ground.weight:
        heaviest = "the heaviest state of its kind: dug out, it has lost its own"
        sheet.given("γ_h", ground.heap, "kN/m3", heaviest, "Unit weight of what lies in the spoil heap")
        of_heap = heap_base.named(γ="γ_h")
    base = sheet.work(of_heap, ground.heap, dug, B, q_h, w_0)
    heap = _strip("h", "the spoil heap", q_h, near, ("w_h", base), H, sheet, deep)
    others = list(_moving(H, details, rows, sheet))
    if not others:
        return heap, "p_h"
    here = [_strip(a, of, q, x, (f"w_{a}", wide), H, sheet, deep) for a, of, q, x, wide in others]
    behind = [
        _strip(
            f"{a}b",
            f"{of}, as if beyond the heap",
            q,
            sheet.most(
                f"x_{a}b",
                {f"x_{a}": x, "x_h2": near + base},
                "m",
                "beyond the heap",
                f"Near edge of {of}, beyond the heap",
            ),
            (f"w_{a}", wide),
            H,
            sheet,
            deep,
            f"q_{a}",
        )
        for a, of, q, x, wide in others
    ]
    p_o, o = _sum("p_o", [f"p_{a}" for a, *_ in others], here, sheet)
    p_b, b = _sum("p_b", [f"p_{a}b" for a, *_ in others], behind, sheet)
    return sheet.work(beside.named(p_b=b, p_o=o), heap, p_b, p_o), "p_B"


def _sum(symbol: str, of: list[str], each: list[KiloPascal], sheet: Sheet) -> tuple[KiloPascal, str]:
    """The pressure of one or two loads on one side, and its symbol."""
    if len(each) == 1:
        return each[0], of[0]
    first, second = each
    return sheet.work(together.named(symbol=symbol, p_1st=of[0], p_2nd=of[1]), first, second), symbol


def _moving(
    H: Metre, details: Details, rows: Pressures, sheet: Sheet
) -> Iterator[tuple[str, str, KiloPascal, Metre, Metre]]:
    """Letter, name, load, near edge and width of live traffic and of plant inside the influence line."""
    if details.traffic or details.traffic_m is not None:
        if details.traffic_m is None:
            near = sheet.figure("x_v", rows.lane_untold, "Near edge of the live lane, nobody told of it")
        else:
            near = sheet.given("x_v", details.traffic_m, "m", "told", "Near edge of the live lane")
        load = sheet.figure("q_v", rows.lane, "Load of live traffic on its lane")
        yield "v", "live traffic", load, near, sheet.figure("w_v", rows.lane_width, "Width of a lane")
    if details.plant_m is not None and details.plant_t is not None and details.plant_m <= H:
        row = next((row for row in rows.plant if details.plant_t <= row.up_to.si), rows.plant[-1])
        near = sheet.given("x_m", details.plant_m, "m", "told", "Near edge of the machine")
        load = sheet.figure("q_m", row.load, "Load of a machine of this weight")
        yield "m", "the machine", load, near, sheet.figure("w_m", row.width, "Width of the machine")


def _load(K_a: Ratio, H: Metre, details: Details, rows: Pressures, sheet: Sheet, deep: str) -> KiloPascal:
    """Pressure of a stated load: an even one, or a strip where its distance is told and that is more."""
    q = details.surcharge_kpa
    if not q:
        return sheet.given("p_L", 0.0, "kPa", "none told", "Pressure of the load stated beside the trench")
    sheet.given("q_L", q, "kPa", "told", "Load stated beside the trench")
    near = details.plant_m
    even = surcharge.uniform.named(symbol="p_L" if near is None else "p_Le", K="K_a", q="q_L")
    by_even = sheet.work(even, K_a, q)
    if near is None:
        return by_even
    near = sheet.given("x_L", near, "m", "told, with the machine", "Near edge of the load")
    wide = sheet.figure("w_L", rows.plant[0].width, "Width that the load is taken to have")
    strip = _strip("L", "the load stated", q, near, ("w_L", wide), H, sheet, deep, symbol="p_Ls")
    return sheet.work(stated_load, by_even, strip)


def _strip(
    a: str,
    of: str,
    q: KiloPascal,
    x_1: Metre,
    wide: tuple[str, Metre],
    H: Metre,
    sheet: Sheet,
    deep: str,
    load: str = "",
    symbol: str = "",
) -> KiloPascal:
    """Greatest pressure of a strip load over a face `H` high; `a` is the letter that its symbols end in."""
    w, width = wide
    far, worst, press = _of_strip(a, of, w, deep, load or f"q_{a}", symbol or f"p_{a}")
    x_2 = sheet.work(far, x_1, width)
    if worst(x_1, x_2, H) > _AT_SURFACE:
        depth = sheet.work(worst, x_1, x_2, H)
    else:
        why = "a load from the edge on presses most at the surface"
        depth = sheet.given(worst.symbol, _AT_SURFACE, "m", why, worst.said)
    return sheet.work(press, q, x_1, x_2, depth)


@lru_cache(maxsize=256)
def _of_strip(
    a: str, of: str, w: str, deep: str, load: str, symbol: str
) -> tuple[
    Formula[[Metre, Metre]],
    Formula[[Metre, Metre, Metre]],
    Formula[[KiloPascal, Metre, Metre, Metre]],
]:
    """The formulas of one strip load by its own symbols: its far edge, how deep it presses most, how much."""
    x, x2, z = f"x_{a}", f"x_{a}2", f"z_{a}"
    return (
        far_edge.named(symbol=x2, said=f"Far edge of {of}", x_1=x, w=w),
        strip_worst_depth.named(symbol=z, said=f"How deep {of} presses most", x_1=x, x_2=x2, H=deep),
        surcharge.strip.named(symbol=symbol, said=f"Pressure of {of}", q=load, x_1=x, x_2=x2, z=z),
    )


def surface_load(details: Details, tables: Tables, sheet: Sheet) -> KiloPascal:
    """Load on the surface beside the trench: the least that is always taken, and any that was stated."""
    told = details.surcharge_kpa or 0.0
    least = tables.pressures.surcharge_least
    q_0 = sheet.figure("q_0", least, "Least load on the surface beside the trench")
    q_L = sheet.given("q_L", told, "kPa", "told" if told else "none told", "Load stated beside the trench")
    return sheet.work(on_the_surface, q_0, q_L)


def base_bearing(H: Metre, B: Metre, L: Metre | None, rows: Pressures, sheet: Sheet) -> Ratio:
    """Bearing factor for base heave: between the rows of the table; a trench of unknown length is long."""
    ratio = min(H / B, rows.base_n_c[-1].ratio)
    a, b = next((a, b) for a, b in pairwise(rows.base_n_c) if ratio <= b.ratio)
    share = (ratio - a.ratio) / (b.ratio - a.ratio)
    strip = a.strip + (b.strip - a.strip) * share
    table = f"Bjerrum and Eide 1956; Skempton 1951 table, H / B between {a.ratio:g} and {b.ratio:g}"
    if L is None:
        return sheet.given("N_cb", strip, "", table, "Bearing factor against heave, long trench")
    square = a.square + (b.square - a.square) * share
    sheet.given("N_strip", strip, "", table, "Bearing factor against heave, long trench")
    sheet.given("N_square", square, "", table, "Bearing factor against heave, square pit")
    return sheet.work(base_factor, strip, square, B, max(L, B))
