"""The sizing in order: gate, ground, levels, pressure, base, shores, places along the trench, its limits.

The gate comes first: a refusal is an answer. What it needs and nobody told is asked for, or the worst of
the possible answers is taken and said so in a caution.
"""

from knowledge.outcome import Ask, Level, Refusal, Sized, Stop, Strut
from knowledge.reading import BuriedService, Details
from knowledge.sheet import Scratch, Sheet
from knowledge.sizing import layout
from knowledge.sizing.before_sizing import facts_of, questions, refused
from knowledge.sizing.ground import Ground, described, design
from knowledge.sizing.holds import holds_to
from knowledge.sizing.layout import AxisWindow, KeepOut, NoLayout, Placed
from knowledge.sizing.levels import stage_depth, stages
from knowledge.sizing.row import Run, TurnedRail, row
from knowledge.sizing.rules import SizingValue, cautions, refusal
from knowledge.sizing.strut import rail_in_bending, rail_in_shear, stage_load
from knowledge.sizing.survival import survives
from knowledge.sizing.turned import turned_from, turned_verdicts
from knowledge.sizing.working import NotHeld, Terms, WorkedTrench, work
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
    sheet = Sheet()
    soil = described(details.soil, tables.soils)
    ground = design(soil, details, tables, rulebook, sheet) if soil else None
    facts = facts_of(details, soil, ground, tables, rulebook)
    case = Terms(details, tables, rulebook, chosen, _keep_outs(details, chosen, tables))
    if stops := refused(details, ground, facts, tables, rulebook, chosen):
        return _stop(case, stops, ground, facts, sheet)
    if asked := questions(details, soil):
        return Ask(questions=asked)
    assert ground is not None and details.depth_m is not None and details.width_m is not None
    _told(details, sheet)
    worked = work(case, details.depth_m, details.width_m, ground, sheet)
    if isinstance(worked, NotHeld):
        return _stop(case, (_refusal(case, worked.rule, worked.numbers),), ground, facts, sheet)
    places = _places(case, worked)
    if isinstance(places, NoLayout):
        return _stop(case, (_blocked(case, places),), ground, facts, sheet)
    return _sized(case, worked, places, facts, sheet)


def _told(details: Details, sheet: Sheet) -> None:
    told = (
        ("H", details.depth_m, "Depth of the trench"),
        ("B", details.width_m, "Width of the trench"),
        ("L_t", details.length_m, "Length of the trench"),
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
    facts: dict[SizingFact, SizingValue],
    sheet: Sheet,
) -> Sized:
    found, length = worked.shores, case.details.length_m
    combination = found.combination
    depths = tuple(place.depth_m for place in places)
    counted = sum(len(place.positions_m) for place in places)
    _placed(worked, depths, sheet)
    _verdicts(case, worked, sheet)
    turned_verdicts(worked, places, sheet)
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
        holds_to=holds_to(case, worked, places),
        pressure_kpa=worked.pressure.kpa,
        pressure_by=worked.pressure.by,
        soil_type=worked.ground.soil_type,
        rulebook=case.rulebook,
        kit=case.kit.name,
        governed_by="table" if worked.by_table else "working",
        survives=survives(worked, sheet),
        cautions=cautions(facts, case.tables, case.rulebook),
        questions=("length_m",) if length is None else (),
        sheet=sheet,
    )


def _placed(worked: WorkedTrench, depths: tuple[Metre, ...], sheet: Sheet) -> None:
    sheet.given("s", worked.shores.spacing, "m", "spacing used, rounded down", "Spacing, centre to centre")
    limits = worked.limits
    for i, depth in enumerate(depths, 1):
        sheet.given(f"z_{i}", depth, "m", "level, within its window", f"Depth of strut {i} below ground")
        sheet.work(stage_depth, depth, limits.rail, limits.room, worked.depth)


def _verdicts(case: Terms, worked: WorkedTrench, sheet: Sheet) -> None:
    """Each load against what carries it: at full depth, and while the dig stops for a level."""
    found, rows, rail = worked.shores, case.tables.pressures, case.kit.rail
    N, R_b = ("N", worked.load), ("R_b", found.bearing.load)
    sheet.check("Load on the ground behind a rail", N, R_b, "at full depth")
    sheet.check("Load of a strut", N, ("R", found.capacity), "at full depth")
    bends = rail_in_bending(rail.bending_gpa, rail.section_modulus_mm3, rail.length_m * 1000)
    sheet.check("Bending of the rail", N, ("N_m", bends), "at full depth")
    shears = rail_in_shear(rail.shear_gpa, rail.shear_area_mm2)
    sheet.check("Shear of the rail", N, ("N_v", shears), "at full depth")
    if worked.plan.staged:
        at_stage = sheet.work(stage_load, worked.pressure.kpa, found.spacing, worked.plan.staged)
        borne = found.bearing.load * rows.load_factor.si / rows.stage_factor.si
        sheet.check("Load on the ground at a stage", ("N_t", at_stage), ("R_t", borne), "nobody is in")
        sheet.check("Load of a strut at a stage", ("N_t", at_stage), ("R", found.capacity), "nobody is in")


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
    return refusal(rule, case.tables.rules.refusal[rule], figures, case.tables)


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
