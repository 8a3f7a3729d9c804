"""The sizing against facts of the trade: common practice, no published source, unless a test says so."""

from itertools import pairwise
from typing import get_args

import pytest
from trenches import TABLES, outcome, sized, stopped, told

from knowledge.outcome import Ask, Sized, Stop
from knowledge.sizing import levels
from knowledge.sizing.size import size
from knowledge.tables.sizing_figures import BiteLimits

PSI = 0.0689475729


@pytest.mark.parametrize(
    ("depth", "levels"), [(0.6, 1), (1.0, 1), (1.2, 1), (1.21, 2), (1.4, 2), (1.6, 2), (1.8, 2), (2.0, 2)]
)
def test_one_level_to_1_2_m_and_two_below(depth: float, levels: int) -> None:
    assert len(sized(told(depth, 0.9, "firm clay", length_m=6)).levels) == levels


@pytest.mark.parametrize("mm", range(550, 2001, 10))
def test_every_depth_from_the_rail_to_2_m_keeps_every_bite_and_gap(mm: int) -> None:
    depth, kit = mm / 1000, TABLES.kits["light"]
    found = sized(told(depth, 0.9, "firm clay", length_m=6))
    z = [level.depth_m for level in found.levels]
    rail = kit.rail.length_m
    assert len(found.stages_m) == len(z) + 1
    assert list(found.stages_m) == sorted(found.stages_m)
    assert found.stages_m[-1] == depth
    assert found.stages_m[0] <= 1.0 + 1e-9
    assert all(dug - set_above <= 1.0 + 1e-9 for dug, set_above in zip(found.stages_m[1:], z, strict=True))
    assert depth - z[-1] <= 0.6 + 1e-9
    assert z[0] - rail / 2 >= -1e-9
    assert z[-1] + rail / 2 <= depth + 1e-9
    assert all(b - a >= rail - 1e-9 for a, b in pairwise(z))
    assert all(dug >= at + rail / 2 - 1e-9 for dug, at in zip(found.stages_m, z, strict=False))


@pytest.mark.parametrize(
    "ground", ["soft clay", "firm clay", "stiff clay", "hard clay", "firm silt", "type B"]
)
@pytest.mark.parametrize("depth", [0.7, 1.2, 1.6, 2.0])
def test_pump_pressures_lie_inside_400_to_750_psi(ground: str, depth: float) -> None:
    found = outcome(told(depth, 0.9, ground, face="stands"))
    if isinstance(found, Sized):
        low, high = found.pressure_bar
        assert 400 * PSI <= low <= high <= 750 * PSI


def test_soft_ground_is_pumped_lower() -> None:
    soft, firm = sized(told(1.6, 0.9, "soft clay", face="stands")), sized(told(1.6, 0.9, "firm clay"))
    assert soft.pressure_bar[1] < firm.pressure_bar[1]


def test_nothing_deeper_than_2_m_with_short_rails() -> None:
    refusal = stopped(told(2.01, 0.9, "stiff clay"))["deeper-than-kit"]
    assert "2.01 m" in refusal.say
    assert refusal.instead


def test_the_main_example_is_sized_with_and_without_a_length() -> None:
    found = sized(told(1.6, 0.9, "firm clay"))
    assert (found.units, found.run_m, found.questions) == (None, 6.0, ("length_m",))
    assert found.units_per_run
    assert all(level.units is None and level.positions_m is None for level in found.levels)
    long = sized(told(1.6, 0.9, "firm clay", length_m=6, water="dry"))
    assert long.units == sum(level.units or 0 for level in long.levels) == found.units_per_run
    assert not any(caution.id == "water-untold" for caution in long.cautions)
    assert any(caution.id == "water-untold" for caution in found.cautions)


@pytest.mark.parametrize("ends", ["battered", "supported", "open", None])
@pytest.mark.parametrize("length", [1.6, 2.4, 5.0, 6.0, 17.35])
def test_units_stand_within_their_spacing_and_near_the_ends(ends: str | None, length: float) -> None:
    found = sized(told(1.6, 0.9, "firm clay", length_m=length, ends=ends))
    end = found.spacing_m / 2 if ends in ("battered", "supported") else 0.3
    for level in found.levels:
        at = level.positions_m or ()
        assert len(at) == level.units
        assert at[0] <= end + 1e-9
        assert length - at[-1] <= end + 1e-9
        assert all(b - a <= found.spacing_m + 1e-9 for a, b in pairwise(at))
        if ends in ("battered", "supported"):
            assert level.units == -(-round(length * 1000) // round(found.spacing_m * 1000))


def test_open_ends_are_a_hazard_that_is_said() -> None:
    assert "ends-open" in {c.id for c in sized(told(1.6, 0.9, "firm clay", ends="open")).cautions}
    assert "ends-untold" in {c.id for c in sized(told(1.6, 0.9, "firm clay")).cautions}
    battered = {c.id for c in sized(told(1.6, 0.9, "firm clay", ends="battered")).cautions}
    assert not battered & {"ends-open", "ends-untold"}


def test_a_slab_pushes_the_rails_below_it() -> None:
    found = sized(told(1.6, 0.9, "firm clay", pavement_m=0.2))
    assert found.levels[0].depth_m - TABLES.kits["light"].rail.length_m / 2 >= 0.2 - 1e-9


def test_the_strut_covers_what_it_must_span_with_room_to_set_it() -> None:
    for cm in range(40, 179):
        found = sized(told(1.0, cm / 100, "firm clay"))
        low, high = found.strut.length_m
        assert low <= found.strut.needed_m <= high
        assert found.strut.load_kn <= found.strut.capacity_kn
        assert found.strut.needed_m == pytest.approx(cm / 100 - 2 * TABLES.kits["light"].rail.thickness_m)


def test_a_competent_person_is_always_named_and_nobody_stands_unsupported() -> None:
    for ground in ("firm clay", "soft clay", "hard clay"):
        ids = [c.id for c in sized(told(1.4, 0.9, ground, face="stands")).cautions]
        assert ids[:2] == ["competent-person", "never-unsupported"]
        assert {"inspect", "gauge", "ladder"} <= set(ids)


REFUSED = [
    ("running", told(1.6, 0.9, "firm clay", face="running")),
    ("running", told(1.6, 0.9, "loose sand", face="ravelling")),
    ("water", told(1.6, 0.9, "firm clay", water="standing")),
    ("water", told(1.6, 0.9, "firm clay", water="seeping")),
    ("ground-never-stands", told(1.6, 0.9, "peat")),
    ("ground-never-stands", told(1.0, 0.9, "topsoil")),
    ("ground-never-stands", told(1.6, 0.9, "very soft clay")),
    ("ground-never-stands", told(1.6, 0.9, "very soft silt")),
    ("deeper-than-kit", told(2.3, 0.9, "firm clay")),
    ("no-strut-fits", told(1.6, 1.85, "firm clay")),
    ("no-strut-fits", told(1.6, 0.35, "firm clay")),
    ("rail-does-not-fit", told(0.5, 0.9, "firm clay")),
    ("rail-does-not-fit", told(0.7, 0.9, "firm clay", pavement_m=0.25)),
    ("plant-close", told(1.6, 0.9, "firm clay", plant_m=1.5)),
    ("plant-close", told(1.6, 0.9, "firm clay", plant_m=1.6)),
    ("load-too-heavy", told(1.6, 0.9, "firm clay", surcharge_kpa=51)),
    ("face-cannot-stand", told(1.6, 0.9, "soft clay", face="stands", surcharge_kpa=30)),
    ("levels-do-not-fit", told(1.33, 0.9, "firm clay", pavement_m=0.25)),
    ("too-many-levels", told(1.9, 0.9, "dense sand", face="stands")),
    ("ground-never-stands", told(1.0, 0.9, "soft silt", face="stands")),
    ("ground-never-stands", told(1.0, 0.9, "loose sand", face="stands")),
    ("ground-never-stands", told(1.0, 0.9, "very loose gravel", face="stands")),
    ("made-ground-deep", told(1.3, 0.9, "made ground", face="stands", water="dry")),
    ("made-ground-wet", told(1.0, 0.9, "made ground", face="stands", water="damp")),
    ("pit", told(1.0, 0.9, "stiff clay", pit=True)),
    ("pit-by-measure", told(1.8, 1.5, "stiff clay", length_m=1.5)),
    ("plant-heavy", told(1.6, 0.9, "firm clay", plant_m=1.5, plant_t=12)),
    ("plant-at-edge", told(1.6, 0.9, "firm clay", plant_m=0.5, plant_t=2)),
    ("traffic-close", told(1.6, 0.9, "firm clay", traffic=True, traffic_m=0.5, pavement_m=0)),
    ("slope-steep", told(1.6, 0.9, "firm clay", beside=({"what": "slope", "one_in": 2},))),
    ("deeper-than-kit", told(1.8, 0.9, "firm clay", beside=({"what": "slope", "one_in": 5},))),
    ("outside-table", told(1.6, 1.95, "firm clay")),
    ("strut-overloaded", told(2.0, 1.75, "stiff clay", surcharge_kpa=30)),
    ("ground-gives-way", told(2.0, 0.9, "firm clay", surcharge_kpa=49)),
]


@pytest.mark.parametrize(("rule", "details"), REFUSED)
def test_a_refusal_says_why_by_what_source_and_what_instead(rule: str, details: object) -> None:
    refusal = stopped(details)[rule]  # type: ignore[arg-type]
    assert refusal.say and refusal.source and refusal.instead
    assert "{" not in refusal.say + refusal.instead


def test_all_that_stops_a_trench_is_said_at_once() -> None:
    found = stopped(told(2.3, 0.9, "firm clay", water="standing", face="running", plant_m=0.5))
    assert set(found) == {"running", "water", "plant-close", "plant-at-edge", "deeper-than-kit"}


def test_base_heave_below_1_5_is_refused() -> None:
    # UFC 3-220-20 2-4.3.3 wants 1.5 (R1). (22 x 5 + 10) x 1.5 = 180 exceeds 23.9 kPa by 6.45 at H/B 1.25.
    refusal = stopped(told(5.0, 4.0, "type B"), kit="heavy")["base-heave"]
    assert "1.2" in refusal.say and "1.5" in refusal.say


def test_an_empty_pressure_band_is_a_refusal_not_a_number() -> None:
    """Finding 10: a band narrower than two gauges may differ by (3 bar, EN 837-1 class 2.5, R1) is none."""
    kit = TABLES.kits["light"]
    for least, kind in ((48.0, "sized"), (48.5, "stop")):
        eager = kit.model_copy(update={"least_bar": {"cohesive": least, "granular": least}})
        found = size(told(1.6, 0.9, "firm clay"), TABLES.model_copy(update={"kits": {"light": eager}}))
        assert found.kind == kind
    assert isinstance(found, Stop)
    assert [refusal.rule for refusal in found.stop] == ["band-empty"]


def test_a_stated_load_near_the_edge_is_carried_and_said() -> None:
    bare, loaded = (
        sized(told(1.6, 0.9, "firm clay", plant_m=1.0, surcharge_kpa=20)),
        sized(told(1.6, 0.9, "firm clay")),
    )
    assert bare.pressure_kpa > loaded.pressure_kpa
    assert "load-carried" in {c.id for c in bare.cautions}


def test_a_load_beside_the_trench_is_added_never_swallowed() -> None:
    small = sized(told(1.6, 0.9, "firm clay", surcharge_kpa=1)).pressure_kpa
    assert small > sized(told(1.6, 0.9, "firm clay")).pressure_kpa


ASKED = [
    (told(None, 0.9, "firm clay"), ("depth_m",)),
    (told(1.6, None, "firm clay"), ("width_m",)),
    (told(1.6, 0.9, None), ("soil",)),
    (told(1.6, 0.9, "clay"), ("soil",)),
    (told(1.6, 0.9, "sand"), ("soil",)),
    (told(1.6, 0.9, "dense sand"), ("face",)),
    (told(1.6, 0.9, "soft clay"), ("face",)),
    (told(1.6, 0.9, "firm silt"), ("face",)),
    (told(1.6, 0.9, "firm clay", traffic=True), ("pavement_m",)),
    (told(1.6, 0.9, "firm clay", plant_t=2), ("plant_m",)),
    (told(1.6, 0.9, "firm clay", beside=({"what": "wall"},)), ("beside",)),
    (told(1.6, 0.9, "dense gravel"), ("face",)),
    (told(1.0, 0.9, "made ground"), ("face", "water")),
    (told(1.6, 0.9, "type C"), ("face",)),
    (told(None, None, None), ("depth_m", "width_m", "soil")),
    (told(1.6, 0.9, "firm clay", services=({"what": "gas"},)), ("services",)),
]


@pytest.mark.parametrize(("details", "questions"), ASKED)
def test_what_the_gate_needs_and_nobody_told_is_asked(details: object, questions: tuple[str, ...]) -> None:
    found = outcome(details)  # type: ignore[arg-type]
    assert isinstance(found, Ask)
    assert found.questions == questions


def test_what_stops_a_trench_stops_it_before_anything_is_asked() -> None:
    assert isinstance(outcome(told(None, None, "peat")), Stop)
    assert isinstance(outcome(told(None, 0.9, None, water="standing")), Stop)


def test_sand_is_sized_only_on_a_face_reported_as_standing_with_shorter_bites_and_boards() -> None:
    found = sized(told(1.5, 0.9, "medium dense sand", face="stands"))
    assert found.boards
    assert found.stages_m[0] <= 0.9
    assert 1.5 - found.levels[-1].depth_m <= 0.5 + 1e-9
    assert "reported-face" in {c.id for c in found.cautions}


@pytest.mark.parametrize("rulebook", ["uk", "us"])
@pytest.mark.parametrize("bites", get_args(BiteLimits))
@pytest.mark.parametrize("stands", [0.9, 1.2, 9.0])
def test_no_last_bite_of_less_than_the_working_room_is_a_stage_of_its_own(
    rulebook: str, bites: BiteLimits, stands: float
) -> None:
    book = TABLES.rulebook(rulebook)  # type: ignore[arg-type]
    limits = levels.limits(TABLES.kits["light"], book, TABLES.practice, bites, stands, 0.0)
    for centimetres in range(60, 400):
        deep = centimetres / 100
        found = levels.fewest(deep, limits, 9, 9.0)
        if isinstance(found, int):
            *_, before, bottom = (0.0, *levels.plan(deep, found, limits).stages)
            assert bottom - before == 0 or bottom - before >= limits.room - 1e-9, deep
