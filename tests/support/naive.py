"""A second opinion: every check that a sized answer must pass, worked the plain way from published theory.

It shares no code with the sizing, only the data files where a figure is the company's own (kits, described
ground, heap, clearances). Published and practice figures are written here again, with their marks. Slow and
plain on purpose. `faults(...)` names every check that an answer fails; none is ever expected.
"""

from collections.abc import Iterator
from itertools import pairwise
from math import atan, ceil, cos, pi, radians, sin, sqrt, tan

from knowledge.outcome import Sized, Survives
from knowledge.reading import BuriedService, Details
from knowledge.tables.kit import Kit, StrutSize
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import GroundRow

FT, PSF, PCF, PSI_BAR = 0.3048, 0.04788026, 0.157087464, 0.0689475729
SLACK = 1e-6

# 29 CFR 1926 Subpart P App D Tables D-1.1 and D-1.2 (M-H): depth to, horizontal spacing, feet.
US_SPACING = {"A": ((10, 8.0), (15, 8.0), (20, 7.0)), "B": ((10, 8.0), (15, 6.5), (20, 5.5))}
# Greatest spacing by type and depth, practice: to 2.0 m, deeper.
UK_SPACING = {"A": (1.5, 1.2), "B": (1.2, 1.0), "C": (0.9, 0.75)}
# Beside the trench: times the depth in firm ground and in other, never nearer (engineering basis, section
# 10).
BESIDE = {"crane": (2.0, 2.0, 0.0), "pole": (1.0, 1.5, 1.5)}
UNDERSIDE = ("foundation", "building", "wall", "other")
# Equivalent fluid, lb/ft3 (App C table headings, R1).
FLUID = {"A": 25.0, "B": 45.0, "C": 80.0}
# N_c by depth over width, long trench and square (Skempton 1951, M-H; at 1.5 the lower copy).
N_C = (
    (0, 5.14, 6.2),
    (0.25, 5.6, 6.7),
    (0.5, 5.9, 7.1),
    (1, 6.4, 7.7),
    (1.5, 6.5, 8.1),
    (2, 7.0, 8.4),
    (2.5, 7.2, 8.6),
    (3, 7.4, 8.8),
    (4, 7.5, 9.0),
)


def faults(details: Details, sized: Sized, tables: Tables) -> list[str]:
    """The checks that fail, each named; empty for a sound answer."""
    return [name for name, good in _checks(details, sized, tables) if not good]


def standing(details: Details, sized: Sized, tables: Tables) -> Sized:
    """A plan that was made for another trench, as it stands in this one: levels, spacing, struts and pump as
    they are, with what they now bring and can take. `faults` then tells whether it does."""
    assert details.depth_m is not None and details.width_m is not None
    kit, ground, H = tables.kits[sized.kit], _ground(details, tables), details.depth_m
    z, size = [level.depth_m for level in sized.levels], _size(sized, kit)
    soil_type = _type(details, sized, ground)
    here = sized.model_copy(update={"soil_type": soil_type})
    pressure = max(p for _, p in _least_pressures(details, here, ground))
    board = kit.board.thickness_m if sized.boards else 0.0
    needed = details.width_m - 2 * (kit.rail.thickness_m + board)
    reach = min(needed, size.working_load[-1].length_m)  # longer fails as stroke in reserve
    strut = sized.strut.model_copy(
        update={
            "needed_m": needed,
            "capacity_kn": _capacity(size, reach, kit),
            "load_kn": pressure * sized.spacing_m * max(_heights(z, H)),
        }
    )
    # As told, but for one that ended at the floor there: to the centimetre that the working room wants.
    *told, floor = sized.stages_m
    foot = kit.rail.length_m / 2 + tables.practice.working_room.si
    wanted = [ceil((at + foot) * 100 - 1e-6) / 100 for at in z]
    dug = (*(min(H, a if a < floor - 1e-9 else b) for a, b in zip(told, wanted, strict=True)), H)
    load = strut.load_kn * 1.5
    most = min(1.5 * _bears(here, ground, kit)[0], strut.capacity_kn)
    survives = Survives(neighbour_kn=load, of_kn=most, holds=load <= most, end_kn=strut.load_kn * 2)
    limit = sized.holds_to.model_copy(update={"depth_m": H, "width_m": details.width_m})
    return here.model_copy(
        update={
            "pressure_kpa": pressure,
            "strut": strut,
            "stages_m": dug,
            "holds_to": limit,
            "survives": survives,
        }
    )


def _checks(d: Details, s: Sized, t: Tables) -> Iterator[tuple[str, bool]]:
    kit = t.kits[s.kit]
    yield "depth told", d.depth_m is not None
    yield "width told", d.width_m is not None
    yield "soil told", d.soil is not None
    if d.depth_m is None or d.width_m is None or d.soil is None:
        return
    ground = _ground(d, t)
    yield from _gate(d, s, ground, kit)
    yield from _stages(d, s, ground, kit)
    yield from _pressure(d, s, ground)
    yield from _strut(d, s, ground, kit)
    yield from _loads(d, s, kit)
    yield from _bearing(d, s, ground, kit)
    yield from _band(s, ground, kit, t)
    yield from _base(d, s, ground)
    yield from _table(d, s, kit)
    yield from _row(d, s, kit, t)
    yield from _turned(d, s, ground, kit, t)
    yield from _propped(d, s, kit)
    yield (
        "holds to no less than was told",
        (s.holds_to.depth_m >= d.depth_m - SLACK and s.holds_to.width_m >= d.width_m - SLACK),
    )


# ---------------------------------------------------------------- ground


def _ground(d: Details, t: Tables) -> GroundRow:
    assert d.soil is not None
    if d.soil.kind is None:
        assert d.soil.type is not None
        return t.soils.by_type[d.soil.type]
    return next(
        g for g in t.soils.ground if g.kind == d.soil.kind and (g.state is None or g.state == d.soil.state)
    )


def _strength(s: Sized, ground: GroundRow) -> float | None:
    return getattr(ground.strength, s.rulebook) if ground.strength else None


def _type(d: Details, s: Sized, ground: GroundRow) -> str:
    """App A (b): by nature or strength, then the downgrades; what nobody denied is taken to be so."""
    strength = _strength(s, ground)
    told = d.soil.type if d.soil else None
    if ground.type:
        found = str(ground.type)
    else:
        tsf = 2 * (strength or 0) / 95.76052
        found = "A" if tsf >= 1.5 - 1e-6 else "B" if tsf > 0.5 + 1e-6 else "C"
    if told:
        found = max(found, told)
    bad = [d.fissured, d.traffic, d.disturbed]
    if found == "A" and any(x is True or (x is None and told is None) for x in bad):
        found = "B"
    return found


def _gate(d: Details, s: Sized, ground: GroundRow, kit: Kit) -> Iterator[tuple[str, bool]]:
    H = d.depth_m or 0
    kind = _type(d, s, ground)
    soft = ground.state in ("very soft", "very loose", "loose") or (ground.kind, ground.state) == (
        "silt",
        "soft",
    )
    told = ground.kind in ("sand", "gravel", "made ground", "silt") or ground.state == "soft"
    yield "kit depth", kit.depth_m + SLACK >= H * _rise(d)
    yield "20 ft", s.rulebook == "uk" or H <= 20 * FT + SLACK
    yield "short rails to 2 m", s.kit != "light" or H <= 2.0 + SLACK
    yield "no water", d.water not in ("seeping", "standing")
    yield "no layers that dip in", d.dipping is not True
    yield "face stands", d.face not in ("running", "ravelling")
    yield "no ground that never stands", ground.kind not in ("peat", "topsoil") and not soft
    yield "face reported", not told or d.face == "stands"
    yield "made ground to 1.2 m, dry", ground.kind != "made ground" or (H <= 1.2 + SLACK and d.water == "dry")
    yield "boards in soft and granular ground", not told or s.boards
    light = d.plant_t is not None and d.plant_t <= 9
    loaded = d.surcharge_kpa is not None and (d.plant_t is None or light)
    yield "plant clear", d.plant_m is None or d.plant_m > H or light or loaded
    yield "no plant at the edge", d.plant_m is None or d.plant_m >= 0.6
    yield "plant told of is placed", d.plant_t is None or d.plant_m is not None
    yield "no traffic at the edge", d.traffic_m is None or d.traffic_m >= 0.6
    yield "surface of a street told", d.traffic is not True or d.pavement_m is not None
    yield (
        "no pit",
        not d.pit
        and not (d.length_m and (d.length_m < 1.5 * (d.width_m or 0) - SLACK or d.length_m < H - SLACK)),
    )
    yield "type", s.soil_type == kind
    yield "no shores in type C", s.rulebook == "uk" or kind != "C"
    yield (
        "us: an approved table from 5 ft",
        s.rulebook == "uk" or H < 5 * FT or bool(kit.table or kit.approved_by),
    )
    firm = ground.kind in ("chalk", "rock") or (ground.kind in ("clay", None) and not told and kind != "C")
    for thing in d.beside:
        if thing.what in ("slope", "embankment") and thing.one_in is not None:
            yield "no steep slope", thing.one_in >= 3
        elif not (thing.what == "pole" and thing.held):
            hard, other, least = BESIDE.get(thing.what, (1.0, 1.5, 0.0))
            deep = thing.deep_m or 0.0
            counted = (
                max(H, deep) if thing.what == "trench" else max(0.0, H - deep * (thing.what in UNDERSIDE))
            )
            yield (
                "clear of what stands beside",
                thing.at_m is not None and thing.at_m > max(least, counted * (hard if firm else other)),
            )


def _rise(d: Details) -> float:
    """How much deeper the trench counts where ground rises from its edge; flatter than 1 in 10 is flat."""
    rises = [b.one_in for b in d.beside if b.what in ("slope", "embankment") and b.one_in]
    return max([1 + 1 / n for n in rises if n < 10], default=1.0)


# ---------------------------------------------------------------- levels and stages


def _stages(d: Details, s: Sized, ground: GroundRow, kit: Kit) -> Iterator[tuple[str, bool]]:
    H, rail = d.depth_m or 0, kit.rail.length_m
    z, dug = [level.depth_m for level in s.levels], list(s.stages_m)
    # Bites 1.0 m, 0.6 m left below; 0.9 and 0.5 m in soft, granular and made ground (common practice).
    short = (
        ground.kind in ("sand", "gravel", "made ground", "silt")
        or ground.state == "soft"
        or (_type(d, s, ground) == "C" and ground.kind is None)
    )
    bite, gap = (0.9, 0.5) if short else (1.0, 0.6)
    if (c := _strength(s, ground)) is not None:
        load = max(10.0, d.surcharge_kpa or 0.0)
        stands = (2.67 * c - load) / ground.weight.si / 1.5  # Terzaghi 1943, open crack (M-H), over 1.5
        bite, gap = min(bite, stands), min(gap, stands)
    yield "two levels within 2 m", len(z) <= 2 or H > 2.0
    yield "a stage for each level and the last", len(dug) == len(z) + 1 and bool(z)
    yield "the last stage is the depth", abs(dug[-1] - H) < SLACK
    yield "stages go down", all(b >= a - SLACK for a, b in pairwise(dug))
    yield "rails below the slab", z[0] - rail / 2 >= (d.pavement_m or 0) - SLACK
    yield "rails in the trench", z[-1] + rail / 2 <= H + SLACK
    yield "rails apart", all(b - a >= rail - SLACK for a, b in pairwise(z))
    yield (
        "room to set",
        all(stage >= min(H, at + rail / 2 + 0.02) - SLACK for at, stage in zip(z, dug, strict=False)),
    )
    yield "first bite", dug[0] <= bite + SLACK
    yield "later bites", all(stage - above <= bite + SLACK for above, stage in zip(z, dug[1:], strict=False))
    yield "last gap", H - z[-1] <= gap + SLACK
    if s.rulebook == "us":
        yield "levels 4 ft apart", all(b - a <= 4 * FT + SLACK for a, b in pairwise(z))


# ---------------------------------------------------------------- pressure


def _strip_peak(q: float, near: float, far: float, H: float) -> float:
    """The greatest pressure of a strip (Teng, doubled), by looking at two hundred depths."""

    def at(z: float) -> float:
        a, b = atan(near / z), atan(far / z)
        return 2 * q / pi * ((b - a) - sin(b - a) * cos(b + a))

    return max(at(H * i / 200) for i in range(1, 201))


def _pressure(d: Details, s: Sized, ground: GroundRow) -> Iterator[tuple[str, bool]]:
    least = _least_pressures(d, s, ground)
    for name, p in least:
        yield name, s.pressure_kpa >= p * (1 - 1e-6)
    yield "no more than the worst of them", s.pressure_kpa <= max(p for _, p in least) * 1.1


def _least_pressures(d: Details, s: Sized, ground: GroundRow) -> list[tuple[str, float]]:
    """The pressures that the face brings by each envelope, each named."""
    H0, gamma, c = d.depth_m or 0, ground.weight.si, _strength(s, ground)
    H = H0 * _rise(d)
    K = tan(radians(45 - ground.friction.si / 2)) ** 2
    back = (1.0 if s.rulebook == "uk" else 2 * FT) if d.spoil_m is None else d.spoil_m
    # A heap of all that is dug, 12 kPa on at least 1.5 m (practice); a lane of 300 psf (Caltrans 5-1.04,
    # R1); small plant 300 psf on 3 m (UFC 3-220-20, R1), to 9 t 30 kPa on 2.5 m (practice).
    base = max(1.5, gamma * H0 * (d.width_m or 0) / 12)
    heap = _strip_peak(12.0, back, back + base, H)
    moving = []
    if d.traffic or d.traffic_m is not None:
        moving.append((14.4, 0.6 if d.traffic_m is None else d.traffic_m, 3.65))
    if d.plant_t is not None and d.plant_m is not None and d.plant_m <= H:
        moving.append((14.4, d.plant_m, 3.0) if d.plant_t <= 3 else (30.0, d.plant_m, 2.5))
    one_side = heap + sum(
        _strip_peak(q, max(x, back + base), max(x, back + base) + w, H) for q, x, w in moving
    )
    beside = max(one_side, sum(_strip_peak(q, x, x + w, H) for q, x, w in moving))
    q = d.surcharge_kpa or 0.0
    load = K * q
    if q and d.plant_m is not None:
        load = max(load, _strip_peak(q, d.plant_m, d.plant_m + 3.0, H))
    fluid = FLUID[_type(d, s, ground)] * PCF * H
    floor = max(10 * K, beside) + load
    least = [
        ("fluid with 72 psf", fluid + 72 * PSF + load),
        ("fluid with what is beside", fluid + beside + load),
        ("5 kPa per metre", 5 * H + floor if s.rulebook == "uk" else 0.0),
    ]
    if c is None:
        apparent = 0.65 * K * gamma * H
    else:
        intact = d.fissured is not True and d.disturbed is False and d.traffic is False
        stiff, N = (0.3 if intact else 0.4) * gamma * H, gamma * H / c
        soft = max(0.25, 1 - 4 * c / (gamma * H)) * gamma * H
        apparent = stiff if N <= 4 else soft if N > 6 else max(stiff, soft)
    least.append(("apparent pressure with 10 kPa", apparent + K * 10 + load))
    least.append(("apparent pressure with what is beside", apparent + beside + load))
    return least


# ---------------------------------------------------------------- strut, rail, pump


def _size(s: Sized, kit: Kit) -> StrutSize:
    return next(size for size in kit.strut if size.name == s.strut.size)


def _capacity(size: StrutSize, L: float, kit: Kit) -> float:
    """The lesser of the data sheet's load between its rows and the tube as a column (Perry-Robertson, R1)."""
    rows = size.working_load
    stated = next(
        a.kn + (b.kn - a.kn) * (L - a.length_m) / (b.length_m - a.length_m)
        for a, b in pairwise(rows)
        if a.length_m - SLACK <= L <= b.length_m + SLACK
    )
    outer, inner = size.tube.outer_mm, size.tube.outer_mm - 2 * size.tube.wall_mm
    area, inertia = pi / 4 * (outer**2 - inner**2), pi / 64 * (outer**4 - inner**4)
    slender = L * 1000 / sqrt(inertia / area)
    p_e, p_y = pi**2 * size.tube.modulus_gpa / slender**2, size.tube.yield_gpa
    X = (p_y + (1 + 0.003 * slender) * p_e) / 2
    held = min(kit.ram_bar, kit.relief_bar) if kit.relief_at == "ram" else kit.ram_bar
    ram = held * 1e-4 * pi / 4 * size.bore_mm**2
    return min(stated, (X - sqrt(X * X - p_y * p_e)) * area / kit.column_factor, ram)


def _strut(d: Details, s: Sized, ground: GroundRow, kit: Kit) -> Iterator[tuple[str, bool]]:
    size, B = _size(s, kit), d.width_m or 0
    board = kit.board.thickness_m if s.boards else 0.0
    needed, added = B - 2 * (kit.rail.thickness_m + board), sum(s.strut.extensions_m)
    lengths = {extension.length_m for extension in kit.extension}
    yield "face to face", abs(s.strut.needed_m - needed) < 1e-4
    yield "extensions of the kit", set(s.strut.extensions_m) <= lengths
    yield "not too many extensions", len(s.strut.extensions_m) <= size.extensions_most
    yield "room to set the strut", size.closed_m + added + kit.setting_room_m <= needed + 1e-4
    yield "stroke in reserve", needed <= size.open_m + added - kit.reserve_m + 1e-4
    yield (
        "capacity",
        s.strut.capacity_kn <= _capacity(size, s.strut.needed_m, kit) + 0.002,
    )  # needed_m is rounded


def _heights(z: list[float], bottom: float) -> list[float]:
    """Tributary heights: half way to each neighbour, the surface above, the bottom of the dig below."""
    edges = [0.0, *((a + b) / 2 for a, b in pairwise(z)), bottom]
    return [b - a for a, b in pairwise(edges)]


def _loads(d: Details, s: Sized, kit: Kit) -> Iterator[tuple[str, bool]]:
    """Strut loads at full depth and at every stage of the dig, by tributary area."""
    H, z = d.depth_m or 0, [level.depth_m for level in s.levels]
    per_m = s.pressure_kpa * s.spacing_m
    greatest = max(per_m * h for h in _heights(z, H))
    staged = [per_m * h for h in _staged(s)]
    yield "the load stated is the greatest", s.strut.load_kn >= greatest * (1 - 1e-6)
    for name, load in (("at full depth", greatest), ("at every stage", max(staged, default=0.0))):
        yield f"strut carries {name}", load <= s.strut.capacity_kn * (1 + 1e-6)
        half = kit.rail.length_m / 2
        moment = load / kit.rail.length_m * half**2 / 2
        yield (
            f"rail bends {name}",
            moment * 1e3 <= kit.rail.bending_gpa * kit.rail.section_modulus_mm3 * (1 + 1e-6),
        )
        yield f"rail shears {name}", load / 2 <= kit.rail.shear_gpa * kit.rail.shear_area_mm2 * (1 + 1e-6)


def _staged(s: Sized) -> list[float]:
    """What the lowest level set carries while the dig stops: the open bite stands by itself, so half."""
    z = [level.depth_m for level in s.levels]
    return [_heights(z[:i], (z[i - 1] + dug) / 2)[-1] for i, dug in enumerate(s.stages_m[1:-1], 1)]


def _bears(s: Sized, ground: GroundRow, kit: Kit) -> tuple[float, float]:
    """What the ground bears behind a rail in kN at a factor of 1.5, and how wide it is pressed.

    Clay: Skempton's surface footing (M-H), over 1.5 (EN 1997-1 has 1.4, R1). No strength: 55 kPa (practice).
    """
    B, L, c = kit.rail.width_m, kit.rail.length_m, _strength(s, ground)
    q = 55.0 if c is None else 5.14 * (1 + 0.2 * B / L) * c / 1.5
    width = _boarded(q, kit) if s.boards else B
    return q * width * L, width


def _bearing(d: Details, s: Sized, ground: GroundRow, kit: Kit) -> Iterator[tuple[str, bool]]:
    """The load of a strut against what the ground bears behind its rail, at full depth.

    While the dig stops for the next level, over 1.2, since less is asked while nobody is below (practice).
    """
    H, z, c = d.depth_m or 0, [level.depth_m for level in s.levels], _strength(s, ground)
    bears, width = _bears(s, ground, kit)
    greatest = max(s.pressure_kpa * s.spacing_m * h for h in _heights(z, H))
    yield "the ground bears a rail", max(greatest, s.strut.load_kn) <= bears * (1 + 1e-6)
    staged = s.pressure_kpa * s.spacing_m * max(_staged(s), default=0.0)
    yield "the ground bears a rail at every stage", staged <= bears * 1.5 / 1.2 * (1 + 1e-6)
    if s.survives is not None:
        lost = 1.5 * s.strut.load_kn
        most = min(bears * 1.5, s.strut.capacity_kn) + 1e-6
        yield "loss of one unit", s.survives.holds == (lost <= most)
        yield "loss of an end unit", s.survives.end_holds == (2 * s.strut.load_kn <= most)
    if c is not None:
        # A wedge at 45 degrees from the foot of the top rail: shear on its base and both sides, pushed level.
        foot = z[0] + kit.rail.length_m / 2
        base, side = width * foot * sqrt(2), foot * foot / 2
        wedge = c * (base + 2 * side) * sqrt(2)
        top = s.pressure_kpa * s.spacing_m * _heights(z, H)[0]
        yield "no wedge is pushed up to the surface", top <= wedge / 1.5 * (1 + 1e-6)


def _table(d: Details, s: Sized, kit: Kit) -> Iterator[tuple[str, bool]]:
    """The supplier's table is a ceiling: no wider and no fewer levels than the harder row says."""
    if kit.table is None:
        yield "no table governs where there is none", s.governed_by == "working"
        return
    rows = [
        row
        for row in kit.table.row
        if row.soil == s.soil_type
        and row.depth_m >= (d.depth_m or 0) - SLACK
        and row.width_m >= (d.width_m or 0) - SLACK
    ]
    yield "inside the supplier's table", bool(rows)
    if rows:
        yield "spacing by the supplier's table", s.spacing_m <= max(row.spacing_m for row in rows) + SLACK
        yield "levels by the supplier's table", len(s.levels) >= min(row.levels for row in rows)


def _boarded(q: float, kit: Kit) -> float:
    """How wide a board behind a rail presses: out to where the soil bends it to its strength."""
    board, over = kit.board, 0.0
    while q * over**2 / 2 <= board.bending_gpa * 1e6 * board.thickness_m**2 / 6:
        over += 1e-5
    return max(kit.rail.width_m, min(board.width_m, kit.rail.width_m + 2 * over))


def _band(s: Sized, ground: GroundRow, kit: Kit, t: Tables) -> Iterator[tuple[str, bool]]:
    """Pump to 400 to 750 psi (common practice), within valve, strut and wall."""
    low, high = s.pressure_bar
    area = pi / 4 * _size(s, kit).bore_mm ** 2  # mm2; bar x mm2 is 1e-4 kN
    yield "band", low <= high
    yield "least 400 psi", low >= 400 * PSI_BAR - 1e-6
    yield "most 750 psi", high <= 750 * PSI_BAR + 1e-6
    yield "kit's least", low >= kit.least_bar[ground.wall] - 1e-6
    yield "relief valve", high <= kit.relief_bar + 1e-6
    yield "strut takes the pump", high * area * 1e-4 <= s.strut.capacity_kn + 1e-6
    bears, width = _bears(s, ground, kit)
    if (c := _strength(s, ground)) is not None:
        B, L = kit.rail.width_m, kit.rail.length_m
        pumped = 5.14 * (1 + 0.2 * B / L) * c / 2 * width * L  # Skempton (M-H), over 2 (practice)
        yield "wall bears the pump", high * area * 1e-4 <= pumped + 1e-6
    else:
        yield "wall bears the pump", high * area * 1e-4 <= bears + 1e-6
    # Room to rise by twice the error of a gauge (EN 837-1, R1) or a tenth (practice), and a band of that
    # width.
    most = min(bears, s.strut.capacity_kn) / area * 1e4
    yield "room to rise", high + max(3.0, 0.1 * high) <= most + 0.01
    yield "two gauges fit into the band", high - low >= 3.0 - 1e-6
    soft = ground.kind in ("sand", "gravel", "made ground") or ground.state == "soft"
    yield "500 psi in soft and granular ground", not soft or high <= 500 * PSI_BAR + 1e-6
    if s.strut.load_kn:
        share = t.practice.preload_share.si
        yield "a share of the load", low * area * 1e-4 >= share * s.strut.load_kn - 1e-6


def _base(d: Details, s: Sized, ground: GroundRow) -> Iterator[tuple[str, bool]]:
    """N_c c_u / (gamma H + q) at least 1.5 (UFC 3-220-20 2-4.3.3, R1)."""
    c, H, B = _strength(s, ground), d.depth_m or 0, d.width_m or 1
    if c is None:
        return
    ratio = H / B
    strip, square = N_C[-1][1:]
    for (a, strip_a, square_a), (b, strip_b, square_b) in pairwise(N_C):
        if a <= ratio <= b:
            part = (ratio - a) / (b - a)
            strip, square = strip_a + part * (strip_b - strip_a), square_a + part * (square_b - square_a)
    shape = min(1.0, B / d.length_m) if d.length_m else 0.0
    q = max(10.0, d.surcharge_kpa or 0.0)
    n_c = strip + (square - strip) * shape
    yield "base", n_c * c / (ground.weight.si * H + q) >= 1.5 - 1e-6


# ---------------------------------------------------------------- along the trench


def _cohesive(d: Details) -> bool:
    """Whether ground arches as clay does: type C told alone is taken as granular."""
    soil = d.soil
    return (
        bool(soil)
        and soil.kind not in ("sand", "gravel", "made ground")
        and not (soil.kind is None and soil.type == "C")
    )  # type: ignore[union-attr]


def _row(d: Details, s: Sized, kit: Kit, t: Tables) -> Iterator[tuple[str, bool]]:
    kind = str(s.soil_type)
    if s.rulebook == "us":
        most = next(wide for deep, wide in US_SPACING[kind] if (d.depth_m or 0) <= deep * FT + SLACK) * FT
        yield "spacing by the table", s.spacing_m <= most + 1e-4
    else:
        to_two, deeper = UK_SPACING[kind]
        yield (
            "spacing by practice",
            s.spacing_m <= (to_two if (d.depth_m or 0) <= 2.0 + SLACK else deeper) + SLACK,
        )
    yield "not close sheeting", s.spacing_m >= 0.8 - SLACK
    yield "arching", s.spacing_m <= (1.5 if _cohesive(d) else 0.9) + SLACK
    if d.length_m is None:
        yield "no positions without a length", s.units is None and s.run_m is not None
        return
    yield "units add up", s.units == sum(level.units or 0 for level in s.levels)
    end = s.spacing_m / 2
    if d.ends not in ("battered", "supported"):
        end = min(end, t.rulebook(s.rulebook).end.si)
    for level in s.levels:
        at = list(level.positions_m or ())
        yield "positions for every unit", len(at) == level.units and bool(at)
        if not at:
            continue
        yield "three to a group", s.rulebook == "uk" or len(at) >= 3
        yield "spacing", all(b - a <= s.spacing_m + 1e-6 for a, b in pairwise(at))
        yield "units beside each other", all(b - a >= kit.rail.width_m - 1e-6 for a, b in pairwise(at))
        yield "ends", at[0] <= end + 1e-6 and d.length_m - at[-1] <= end + 1e-6
        yield "in the trench", at[0] >= 0 and at[-1] <= d.length_m
        at = [x for x in at if x not in level.turned_m]
        for service in d.services:
            clear = t.practice.service_width[service.what].si / 2 + t.practice.clearance.si
            meets = service.depth_m is None or (
                abs(service.depth_m - level.depth_m) < clear + kit.rail.length_m / 2 - 1e-6
            )
            beside = [
                service.at_m is None or abs(x - service.at_m) < clear + kit.rail.width_m / 2 - 1e-6
                for x in at
            ]
            yield "clear of services", not (meets and any(beside))


def _turned(d: Details, s: Sized, ground: GroundRow, kit: Kit, t: Tables) -> Iterator[tuple[str, bool]]:
    """Units whose rails lie level: where an upright one cannot stand for a service, and only there."""
    b, l_r, z = kit.rail.width_m, kit.rail.length_m, [level.depth_m for level in s.levels]
    c, bears = _strength(s, ground), _bears(s, ground, kit)[0]
    for n, level in enumerate(s.levels):
        lying, at = level.turned_m, level.positions_m or ()
        if not lying:
            continue
        yield "the kit turns rails", kit.turned is not None
        yield "turned units are counted", set(lying) <= set(at)
        yield "none turned on the lowest level", n < len(z) - 1
        h = _heights(z, d.depth_m or 0)[n]
        yield "height of a turned rail", kit.turned is None or h <= kit.turned.height_m + SLACK
        for x, y in pairwise(at):
            yield "no two turned side by side", not (x in lying and y in lying)
            yield "rails side by side", not {x, y} & set(lying) or y - x >= (b + l_r) / 2 - SLACK
        for x in lying:
            yield "turned in the trench", l_r / 2 - SLACK <= x <= (d.length_m or 0) - l_r / 2 + SLACK
            crossing = [_crossing(service, x, level.depth_m, kit, t) for service in d.services]
            yield "turned clear of services", all(clear for clear, _ in crossing)
            yield "turned for a service", any(barred for _, barred in crossing)
        # The face beside it stands open from the rail above, or the surface, to the rail's top; and from its
        # foot to where the dig stops for the next level.
        bite = 0.9 if s.stages_m[0] <= 0.9 + SLACK and ground.bites == "short" else 1.0
        yield "open above a turned rail", level.depth_m - b / 2 - (z[n - 1] if n else 0.0) <= bite + SLACK
        yield "open below a turned rail", s.stages_m[n + 1] - level.depth_m - b / 2 <= bite + SLACK
        N = s.pressure_kpa * s.spacing_m * h
        yield "the ground bears a turned rail", bears * (1 + 1e-6) >= N
        if c is not None and n == 0:
            foot = level.depth_m + b / 2
            wedge = c * (l_r * foot * sqrt(2) + foot * foot) * sqrt(2)
            yield "no wedge is pushed up over a turned rail", wedge / 1.5 * (1 + 1e-6) >= N


def _propped(d: Details, s: Sized, kit: Kit) -> Iterator[tuple[str, bool]]:
    """Units that hold the edges of a surface apart where it overhangs, and none where nothing does."""
    yield "props where it overhangs", (s.props is not None) is bool(d.overhang_m)
    if s.props is None:
        return
    over, thick, strut = d.overhang_m or 0.0, d.pavement_m or 0.0, s.props.strut
    yield "overhang by practice", over <= 0.3 + SLACK and thick > 0
    yield "props lie level by the kit", kit.turned is not None
    yield "depth of props", abs(s.props.depth_m - thick / 2) <= 0.001
    yield (
        "strut of a prop",
        abs(strut.needed_m - ((d.width_m or 0) - over - 2 * kit.rail.thickness_m)) <= SLACK,
    )
    yield "stroke of a prop", strut.length_m[0] - SLACK <= strut.needed_m <= strut.length_m[1] + SLACK
    load = s.pressure_kpa * s.spacing_m * thick
    size = next(size for size in kit.strut if size.name == strut.size)
    yield "load of a prop", abs(strut.load_kn - load) <= 1e-6 * (1 + load)
    yield (
        "a prop carries it",
        load <= min(strut.capacity_kn, _capacity(size, strut.needed_m, kit)) * (1 + 1e-6),
    )
    at = list(s.props.positions_m or ())
    if d.length_m is None:
        yield "no positions of props without a length", not at and s.props.units is None
        return
    near = bool(at) and max(at[0], d.length_m - at[-1]) <= s.spacing_m / 2 + SLACK
    yield "props are counted", len(at) == s.props.units and near
    yield "spacing of props", all(b - a <= s.spacing_m + SLACK for a, b in pairwise(at))
    yield "props beside each other", all(b - a >= kit.rail.length_m - SLACK for a, b in pairwise(at))


def _crossing(service: BuriedService, x: float, z: float, kit: Kit, t: Tables) -> tuple[bool, bool]:
    """Whether a turned unit at `x` and `z` is clear of a service, and whether an upright one would not be."""
    clear = t.practice.service_width[service.what].si / 2 + t.practice.clearance.si
    if service.at_m is None or service.depth_m is None:
        return (
            (service.at_m is not None and abs(x - service.at_m) >= clear + kit.rail.length_m / 2 - 1e-6)
            or (
                service.depth_m is not None
                and abs(z - service.depth_m) >= clear + kit.rail.width_m / 2 - 1e-6
            )
        ), service.at_m is not None and abs(x - service.at_m) < clear + kit.rail.width_m / 2
    off, up = abs(x - service.at_m), abs(z - service.depth_m)
    b, l_r = kit.rail.width_m / 2, kit.rail.length_m / 2
    return off >= clear + l_r - 1e-6 or up >= clear + b - 1e-6, off < clear + b and up < clear + l_r
