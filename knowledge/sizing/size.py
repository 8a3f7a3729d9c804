"""The sizing in order: gate, ground, levels, pressure, base, shores, places along the trench, its limits.

The gate comes first: a refusal is an answer. What it needs and nobody told is asked for, or the worst of
the possible answers is taken and said so in a caution.
"""

from math import inf

from knowledge.outcome import Ask, Level, Props, Refusal, Sized, Stop, Strut
from knowledge.reading import BuriedService, Details
from knowledge.sheet import Scratch, Sheet
from knowledge.sizing import layout
from knowledge.sizing.bearing import stage_capacity
from knowledge.sizing.before_sizing import facts_of, questions, refused
from knowledge.sizing.ground import Ground, described, design
from knowledge.sizing.holds import holds_to
from knowledge.sizing.layout import AxisWindow, KeepOut, NoLayout, Placed
from knowledge.sizing.levels import stage_depth, stage_height, stages
from knowledge.sizing.props import props
from knowledge.sizing.row import Run, TurnedRail, row
from knowledge.sizing.rules import SizingValue, cautions, refusal
from knowledge.sizing.strut import rail_allowable, rail_in_shear, rail_moment, stage_load
from knowledge.sizing.survival import survives
from knowledge.sizing.turned import turned_from, turned_verdicts
from knowledge.sizing.working import NotHeld, Terms, WorkedTrench, bare_face, work
from knowledge.sourced import Rulebook
from knowledge.tables.kit import Kit
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import SizingFact
from knowledge.units import Amount, Metre


def size(
    details: Details, tables: Tables, rulebook: Rulebook = "uk", kit: str | None = None
) -> Ask | Stop | Sized:
    """Size a trench, or say what must be told first, or why these shores will not do.

    Raises KeyError for a kit that the tables do not hold.
    """
    chosen = tables.kits[kit or tables.rulebook(rulebook).kit]
    sheet = Sheet(rulebook, tables.source)
    _told(details, sheet)
    soil = described(details.soil, tables.soils)
    ground = design(soil, details, tables, rulebook, sheet) if soil else None
    facts = facts_of(details, soil, ground, tables, rulebook)
    case = Terms(details, tables, rulebook, chosen, _keep_outs(details, chosen, tables))
    if stops := refused(details, ground, facts, tables, rulebook, chosen):
        return _stop(case, stops, ground, facts, sheet)
    if asked := questions(details, soil):
        return Ask(questions=asked)
    assert ground is not None and details.depth_m is not None and details.width_m is not None
    worked = work(case, details.depth_m, details.width_m, ground, sheet)
    if isinstance(worked, NotHeld):
        return _stop(case, (_refusal(case, worked.rule, worked.numbers),), ground, facts, sheet)
    places = _places(case, worked)
    if isinstance(places, NoLayout):
        return _stop(case, (_blocked(case, places),), ground, facts, sheet)
    length = details.length_m if details.length_m is not None else tables.practice.run.si
    propped = props(worked, length, steps := sheet.fresh())
    if isinstance(propped, NotHeld):
        return _stop(case, (_refusal(case, propped.rule, propped.numbers),), ground, facts, sheet)
    return _sized(case, worked, places, (propped, steps), facts, sheet)


def _told(details: Details, sheet: Sheet) -> None:
    sheet.part("The trench as told")
    told = (
        ("H", details.depth_m, "Depth of the trench"),
        ("B", details.width_m, "Width of the trench"),
        ("L_t", details.length_m, "Length of the trench"),
        ("t_s", details.pavement_m, "Thickness of the slab or surfacing"),
    )
    for symbol, value, name in told:
        if value is not None:
            sheet.given(symbol, value, "m", "told", name)


def _keep_outs(details: Details, kit: Kit, tables: Tables) -> tuple[KeepOut, ...]:
    """What the services told bar to units: half of each, the clearance, and half a rail."""
    return tuple(_keep_out(service, kit, tables) for service in details.services)


def _keep_out(service: BuriedService, kit: Kit, tables: Tables) -> KeepOut:
    practice = tables.practice
    clear = practice.service_width[service.what].si / 2 + practice.clearance.si
    aside, around = clear + kit.rail.width_m / 2, clear + kit.rail.length_m / 2
    crossing = service.at_m is not None and service.depth_m is not None
    return KeepOut(
        at_m=service.at_m,
        depth_m=service.depth_m,
        aside_m=aside,
        around_m=around,
        turned_m=(around, aside) if kit.turned and crossing else None,
    )


def _places(case: Terms, worked: WorkedTrench) -> tuple[Placed, ...] | NoLayout:
    """Where the units stand; of a trench of unknown length, over a run, clear of services along a face."""
    length = case.details.length_m
    keep_outs = case.keep_outs
    if length is None:
        length = case.tables.practice.run.si
        keep_outs = tuple(k for k in keep_outs if k.at_m is None)
    run = _run(case, worked, length)
    if keep_outs:
        return layout.place(run, _windows(worked), keep_outs)
    positions = row(run).positions_m
    if not positions:
        return NoLayout("room")
    return tuple(Placed(depth, positions) for depth in worked.plan.depths)


def _run(case: Terms, worked: WorkedTrench, length: Metre) -> Run:
    spacing, rail = worked.shores.spacing, case.kit.rail
    lying = TurnedRail(least_m=(rail.width_m + rail.length_m) / 2, margin_m=rail.length_m / 2)
    end = spacing / 2
    if case.details.ends not in ("battered", "supported"):
        end = min(end, case.book.end.si)
    return Run(
        length_m=length,
        spacing_m=spacing,
        start_m=end,
        end_m=end,
        least_m=rail.width_m,
        margin_m=rail.width_m / 2,
        at_least=round(case.book.least_group.si),
        turned=lying if case.kit.turned else None,
    )


def _windows(worked: WorkedTrench) -> list[AxisWindow]:
    limits, turned = worked.limits, turned_from(worked)
    return [
        AxisWindow(window.top, best, window.bottom, (limits.rail, limits.step), start)
        for window, best, start in zip(worked.plan.windows, worked.plan.depths, turned, strict=True)
    ]


def _sized(
    case: Terms,
    worked: WorkedTrench,
    places: tuple[Placed, ...],
    propped: tuple[Props | None, Sheet],
    facts: dict[SizingFact, SizingValue],
    sheet: Sheet,
) -> Sized:
    found, length = worked.shores, case.details.length_m
    combination = found.combination
    depths = tuple(place.depth_m for place in places)
    counted = sum(len(place.positions_m) for place in places)
    _verdicts(case, worked, depths, sheet)
    turned_verdicts(worked, places, sheet)
    sheet.take(propped[1])
    _found(case, worked, depths, facts)
    return Sized(
        units=None if length is None else counted,
        run_m=case.tables.practice.run.si if length is None else None,
        units_per_run=counted if length is None else None,
        levels=tuple(
            Level(
                depth_m=depth,
                units=None if length is None else len(place.positions_m),
                positions_m=None if length is None else place.positions_m,
                turned_m=() if length is None else place.turned_m,
            )
            for depth, place in zip(depths, places, strict=True)
        ),
        spacing_m=found.spacing,
        strut=Strut(
            size=combination.size.name,
            extensions_m=combination.extensions_m,
            length_m=(combination.least_m, combination.greatest_m),
            needed_m=round(found.needed, 4),
            capacity_kn=found.capacity,
            load_kn=worked.load,
        ),
        pressure_bar=worked.band,
        stages_m=stages(depths, worked.depth, worked.limits),
        boards=found.bearing.boards,
        holds_to=holds_to(case, worked, places, propped[0]),
        pressure_kpa=worked.pressure.kpa,
        pressure_by=worked.pressure.by,
        soil_type=worked.ground.soil_type,
        rulebook=case.rulebook,
        kit=case.kit.name,
        props=propped[0],
        governed_by="table" if worked.by_table else "working",
        survives=survives(worked, sheet),
        cautions=cautions(facts, case.tables, case.rulebook),
        questions=("length_m",) if length is None else (),
        sheet=sheet,
    )


def _placed(worked: WorkedTrench, depths: tuple[Metre, ...], sheet: Sheet) -> tuple[Metre, ...]:
    """Where the levels lie, and how deep the dig goes for each. Returns those depths."""
    case, limits = worked.face.case, worked.limits
    sheet.part("Levels and stages")
    r = sheet.figure("r", case.tables.practice.working_room, "Room to work below the foot of a rail")
    l_r = sheet.given("l_r", limits.rail, "m", case.kit, "Length of a rail")
    dug = []
    for i, depth in enumerate(depths, 1):
        sheet.given(f"z_{i}", depth, "m", "level, within its window", f"Depth of strut {i} below ground")
        foot = stage_depth.named(
            symbol=f"d_{i}f", said=f"Depth that level {i} wants to be dug to", z=f"z_{i}"
        )
        sheet.work(foot, depth, l_r, r, worked.depth)
    stops = stages(depths, worked.depth, limits)[:-1]
    for i, stop in enumerate(stops, 1):
        how = f"d_{i}f, up to the centimetre that its bite allows; H where less than the room to work is left"
        dug.append(sheet.given(f"d_{i}", stop, "m", how, f"Depth dug before level {i} is set"))
    return tuple(dug)


def _verdicts(case: Terms, worked: WorkedTrench, depths: tuple[Metre, ...], sheet: Sheet) -> None:
    """Each bite against what may be left open, each load against what carries it, stage by stage."""
    _bites(case, worked, depths, sheet)
    found, rail = worked.shores, case.kit.rail
    N, R_b, R = ("N", worked.load), ("R_b", found.bearing.load), ("R", found.capacity)
    done = "at full depth"
    sheet.check("Load on the ground behind a rail", N, R_b, "kN", done)
    sheet.check("Load of a strut", N, R, "kN", done)
    M = sheet.work(rail_moment, worked.load, rail.length_m)
    M_R = sheet.work(rail_allowable, rail.bending_gpa, rail.section_modulus_mm3)
    sheet.check("Bending of the rail", ("M", M), ("M_R", M_R), "kN m", done)
    shears = rail_in_shear(rail.shear_gpa, rail.shear_area_mm2)
    sheet.check("Shear of the rail", N, ("N_v", shears), "kN", done)
    _staged(worked, depths, R, sheet)


def _bites(case: Terms, worked: WorkedTrench, depths: tuple[Metre, ...], sheet: Sheet) -> None:
    """What is left open before each level is set, and below the lowest."""
    open_to, limits, H = case.book.stages[worked.ground.row.bites], worked.limits, worked.depth
    dug = _placed(worked, depths, sheet)
    sheet.part("Verdicts")
    first = sheet.figure("b_1", open_to.first, "Face that may stand open before the first level")
    later = sheet.figure("b_2", open_to.later, "Face that may stand open below a pumped strut")
    gap = sheet.figure("b_g", open_to.gap, "Face that may stay open below the lowest strut")
    if open_to.gap_from == "rail":
        gap = sheet.given("b_g", gap + limits.rail / 2, "m", "from the rail, here from its strut", "The same")
    stands = bare_face(case, worked.ground, Scratch())
    if stands < inf:
        # The bare face stands no higher than theory gives, whatever practice lets be left open.
        most = max([dug[0], *(d - z for d, z in zip(dug[1:], depths, strict=False)), H - depths[-1]])
        sheet.given(
            "o", most, "m", "the greatest of what is left open below", "Face that stands open at most"
        )
        sheet.check("Bare face by theory", ("o", most), ("h_s", stands), "m", "at every stage")
    sheet.check("First bite", ("d_1", dug[0]), ("b_1", first), "m", "before level 1 is set")
    for i, (d, z) in enumerate(zip(dug[1:], depths, strict=False), 2):
        sheet.check(
            f"Open below strut {i - 1}",
            (f"d_{i} - z_{i - 1}", d - z),
            ("b_2", later),
            "m",
            f"before level {i} is set",
        )
    last = (f"H - z_{len(depths)}", H - depths[-1])
    sheet.check("Left open below the lowest strut", last, ("b_g", gap), "m", "at full depth")


def _staged(worked: WorkedTrench, depths: tuple[Metre, ...], R: tuple[str, float], sheet: Sheet) -> None:
    """The lowest strut while the dig stops for the next level, which drops out of it again."""
    found, rows = worked.shores, worked.face.case.tables.pressures
    R_t = stage_capacity(found.bearing.load, rows.load_factor.si, rows.stage_factor.si)
    stops = stages(depths, worked.depth, worked.limits)[1:-1]
    for i, (d, above) in enumerate(zip(stops, (-depths[0], *depths), strict=False), 2):
        when = f"dug to d_{i}, before level {i} is set; nobody is in"
        up = "(-z_1)" if i == 2 else f"z_{i - 2}"
        height = stage_height.named(
            symbol=f"h_d{i}",
            said=f"Height that strut {i - 1} carries, dug for level {i}",
            d=f"d_{i}",
            z_above=up,
        )
        load = stage_load.named(
            symbol=f"N_t{i}", said=f"Load of strut {i - 1}, dug for level {i}", h_d=f"h_d{i}"
        )
        N_t = sheet.work(load, worked.pressure.kpa, found.spacing, sheet.work(height, d, above))
        sheet.check(f"Load on the ground, dug for level {i}", (f"N_t{i}", N_t), ("R_t", R_t), "kN", when)
        sheet.check(f"Load of a strut, dug for level {i}", (f"N_t{i}", N_t), R, "kN", when)


def _found(
    case: Terms, worked: WorkedTrench, depths: tuple[Metre, ...], facts: dict[SizingFact, SizingValue]
) -> None:
    """Add what the sizing found to the facts that cautions are asked about."""
    found, table = worked.shores, case.kit.table
    facts["unit_mass"] = Amount(2 * case.kit.rail.mass_kg + found.combination.mass_kg, "kg")
    facts["boards"] = "yes" if found.bearing.boards else "no"
    facts["table"] = table.title if table else None
    facts["governed_by"] = "table" if worked.by_table else "working"
    facts["own_spacing"] = Amount(found.own, "m", "upper")
    lost = survives(worked, Scratch())
    facts["survives"] = "yes" if lost.holds else "no"
    facts["end_survives"] = "yes" if lost.end_holds else "no"
    facts["end_load"] = Amount(lost.end_kn or 0.0, "kN", "lower")
    facts["rail_top"] = Amount(depths[0] - case.kit.rail.length_m / 2, "m", "upper")


def _stop(
    case: Terms,
    stops: tuple[Refusal, ...],
    ground: Ground | None,
    facts: dict[SizingFact, SizingValue],
    sheet: Sheet,
) -> Stop:
    return Stop(
        stop=stops,
        soil_type=ground.soil_type if ground else None,
        rulebook=case.rulebook,
        kit=case.kit.name,
        cautions=cautions(facts, case.tables, case.rulebook)[:1],
        sheet=sheet,
    )


def _refusal(case: Terms, rule: str, numbers: dict[str, Amount]) -> Refusal:
    figures: dict[str, Amount | str] = {"kit": case.kit.name, **numbers}
    return refusal(rule, case.tables.rules.refusal[rule], figures, case.tables, case.rulebook)


def _blocked(case: Terms, blocked: NoLayout) -> Refusal:
    """Why the services leave no lawful layout: the widest gap that cannot be closed, or no room."""
    if blocked.cause != "gap":
        rule = "services-depth" if blocked.cause == "depth" else "units-do-not-fit"
        return _refusal(case, rule, {})
    gap = max((gap for _, gap in blocked.gaps), key=lambda gap: gap.over_m)
    numbers = {
        "gap": Amount(gap.wide_m, "m"),
        "start": Amount(gap.from_m, "m"),
        "end": Amount(gap.to_m, "m"),
        "limit": Amount(gap.limit_m, "m", "upper"),
        "over": Amount(gap.over_m, "m", "lower"),
    }
    return _refusal(case, "services-gap", numbers)
