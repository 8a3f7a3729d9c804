"""Digging in and taking out, in order. The order: common practice, no source, and for taking out also
29 CFR 1926.652(e)(1)(v) and (vi) (M-H)."""

import pytest
from made import sized

from knowledge.entry.steps import Step, dig_in, how_to, take_out
from knowledge.outcome import Level
from knowledge.reading import How
from knowledge.sourced import Rulebook
from knowledge.tables.load import Tables, load
from knowledge.tables.step_rules import StepRules

TABLES: Tables = load()


def told(steps: tuple[Step, ...]) -> list[tuple[str, int | None, float | None]]:
    return [(step.action, step.level, step.depth_m) for step in steps]


def test_dig_a_bite_set_a_level_and_so_on_down() -> None:
    assert told(dig_in(sized(), TABLES)) == [
        ("dig", None, 0.7),
        ("set", 1, 0.4),
        ("dig", None, 1.4),
        ("set", 2, 1.1),
        ("dig", None, 1.6),
        ("ends", None, None),
        ("ladder", None, None),
        ("inspect", None, None),
    ]


def test_the_top_level_alone_is_released_as_the_last() -> None:
    released = {each.level: each.id for each in take_out(sized(), TABLES) if each.action == "release"}
    assert released[1] != released[2] and released[1].endswith("last")


def test_no_dig_below_a_level_that_does_not_hold() -> None:
    first, _, *later = dig_in(sized(), TABLES)
    assert "services located" in first.needs
    for step in later:
        assert step.action == "set" or "levels hold" in step.needs
    assert all("nobody in" in step.needs for step in (first, *later) if step.action in ("dig", "set"))


def test_taking_out_goes_from_the_bottom_up_and_fill_comes_first() -> None:
    """Rails of 0.55 m: their feet at 1.1 + 0.275 and 0.4 + 0.275."""
    steps = take_out(sized(), TABLES)
    assert told(steps) == [
        ("fill", 2, 1.375),
        ("release", 2, None),
        ("fill", 1, 0.675),
        ("release", 1, None),
        ("fill", None, None),
    ]
    for step in steps:
        assert step.action != "release" or "filled close under" in step.needs
        assert {"nobody in", "nobody outside the supported length"} & set(step.needs)


def test_what_stands_open_in_taking_out_is_never_more_than_in_digging() -> None:
    plan = sized()
    feet = [step.depth_m for step in take_out(plan, TABLES) if step.action == "fill" and step.depth_m]
    for foot, bite in zip(reversed(feet), plan.stages_m, strict=False):
        assert foot <= bite


def test_the_sentence_has_its_figures_safely_rounded() -> None:
    set_first = dig_in(sized(pressure_bar=(27.58, 51.71)), TABLES)[1]
    assert "between 28 bar and 51 bar" in set_first.say
    assert "4 units" in set_first.say
    assert dig_in(sized(stages_m=(0.699, 1.4, 1.6)), TABLES)[0].say.startswith("Dig to 0.69 m")


def test_without_a_length_the_step_names_the_spacing() -> None:
    levels = (Level(depth_m=0.4), Level(depth_m=1.1))
    steps = dig_in(sized(units=None, levels=levels, run_m=6.0, units_per_run=8), TABLES)
    assert "every 1.5 m or closer" in steps[1].say


def test_each_rulebook_names_its_own_source() -> None:
    assert "CDM 2015" in dig_in(sized(), TABLES)[-1].source
    assert "29 CFR 1926.651" in dig_in(sized(rulebook="us"), TABLES)[-1].source
    assert "652" in take_out(sized(rulebook="us"), TABLES)[1].source


# What the issue of steps asked for, by a word that the line must hold and the place it has among the others.
WANTED = {
    "ready": ["rails", "pins", "bleeds the air", "no grit", "never by the hose", "Fingers clear"],
    "set": [
        "firm ground",
        "two ropes; if it drags you, let go at once",
        "strut level",
        "One holds, the other pumps",
        "pack tight with timber or as strong",
        "hold before the hose comes off",
        "overhangs",
    ],
    "out": ["Fill", "from outside", "stop if the face moves", "prise it off", "ropes", "look it over"],
}


@pytest.mark.parametrize("how", WANTED)
def test_how_a_unit_is_made_ready_set_and_taken_out_in_that_order(how: How) -> None:
    lines = how_to(how, "uk", TABLES)
    for line, wanted in zip(lines, WANTED[how], strict=True):
        assert wanted in line.say
        assert not any(sign.isdigit() for sign in line.say)


@pytest.mark.parametrize("how", WANTED)
@pytest.mark.parametrize("book", ["uk", "us"])
def test_each_line_says_where_it_comes_from(how: How, book: Rulebook) -> None:
    for line in how_to(how, book, TABLES):
        foreign = "29 CFR" if book == "uk" else "PUWER"
        assert line.source and foreign not in line.source
        assert line.source.startswith(("common practice, ", "PUWER 1998, ", "HSE L23", "29 CFR 1926.6"))


def test_a_line_with_a_blank_is_refused_since_nothing_fills_it() -> None:
    broken = TABLES.steps.model_dump()
    broken["how"]["set"]["lower"]["say"] = "Lower it {depth} down."
    with pytest.raises(ValueError, match=r"how\.set\.lower: holds for any trench"):
        StepRules.model_validate(broken)
    broken["how"] = {"set": broken["how"]["set"], "out": {}, "ready": broken["how"]["ready"]}
    with pytest.raises(ValueError, match="no line says how"):
        StepRules.model_validate(broken)
