"""The data files: what they hold, and that a mistake in one is refused by file, key and reason."""

import re
import shutil
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel
from trenches import TABLES

from knowledge.sourced import DataError, Sentence, Sourced
from knowledge.tables import load


def rows(found: Any) -> Iterator[BaseModel]:
    if isinstance(found, BaseModel):
        yield found
        for name in type(found).model_fields:
            yield from rows(getattr(found, name))
    elif isinstance(found, dict):
        for value in found.values():
            yield from rows(value)
    elif isinstance(found, tuple):
        for value in found:
            yield from rows(value)


def test_every_row_names_a_source_that_is_there() -> None:
    sourced = [row for row in rows(TABLES) if isinstance(row, Sourced)]
    assert len(sourced) > 150
    assert all(row.source in TABLES.sources.source for row in sourced)
    assert all(TABLES.source(row) for row in sourced)


def test_no_sentence_holds_a_digit() -> None:
    sentences = [row for row in rows(TABLES) if isinstance(row, Sentence)]
    assert len(sentences) > 40
    for row in sentences:
        assert not re.search(r"\d", re.sub(r"{\w+}", "", row.say + row.instead))


def test_the_kits_are_said_to_be_invented() -> None:
    for name, kit in TABLES.kits.items():
        assert TABLES.sources.source[kit.source].mark == "invented"
        text = (load.DATA / "kits" / f"{name}.toml").read_text(encoding="utf-8")
        assert text.startswith("# INVENTED") and "supplier's data sheet" in text


def test_the_light_kit_is_what_short_shores_are() -> None:
    # Common practice, no source: short rails, 2.0 m at most.
    kit = TABLES.kits["light"]
    assert (kit.depth_m, kit.rail.length_m, len(kit.strut), len(kit.extension)) == (2.0, 0.55, 2, 2)
    assert kit.relief_bar == pytest.approx(52, abs=1)


def test_struts_of_a_kit_leave_no_width_between_them() -> None:
    for kit in TABLES.kits.values():
        spans = sorted((c.least_m, c.greatest_m) for c in kit.combinations)
        reached = spans[0][1]
        for low, high in spans:
            assert low <= reached + 1e-9
            reached = max(reached, high)


def test_a_stated_load_is_interpolated_and_never_extrapolated() -> None:
    strut = TABLES.kits["light"].strut[0]
    a, b = strut.working_load[:2]
    assert strut.stated_kn(a.length_m) == a.kn
    assert strut.stated_kn((a.length_m + b.length_m) / 2) == pytest.approx((a.kn + b.kn) / 2)
    for beyond in (a.length_m - 0.001, strut.working_load[-1].length_m + 0.001):
        with pytest.raises(ValueError, match="no stated load"):
            strut.stated_kn(beyond)


# The table of worked_by_hand (engineering basis, section 10): weight, c_u uk and us, friction. Caltrans 3-1
# to 3-3 and EN 1997-2 Table G.1 (R1), the BS scale (R2), BS 8002:2015 friction of clay (M); fill, practice.
GROUNDS = [
    ("clay", "soft", 18.9, 20, 12, 20),
    ("clay", "firm", 19.6, 40, 23.9, 20),
    ("clay", "stiff", 20.4, 75, 47.9, 20),
    ("clay", "very stiff", 22.0, 150, 95.8, 20),
    ("clay", "hard", 22.0, 300, 191.5, 20),
    ("sand", "medium dense", 20.4, None, None, 27),
    ("sand", "dense", 22.0, None, None, 31),
    ("gravel", "medium dense", 20.4, None, None, 32),
    ("gravel", "dense", 22.0, None, None, 35),
    ("made ground", None, 20.0, None, None, 25),
    ("silt", "firm", 20.0, 40, 23.9, 23),
    ("rock", None, 25.0, 300, 200, 36),
]


@pytest.mark.parametrize(("kind", "state", "weight", "uk", "us", "friction"), GROUNDS)
def test_values_belong_to_the_kind_and_state(
    kind: str, state: str | None, weight: float, uk: float | None, us: float | None, friction: float
) -> None:
    """Findings 11 and 15: dense gravel had 20 degrees and a clay's cohesion; every clay weighed 22 kN/m3."""
    row = TABLES.soils.rows[kind, state]  # type: ignore[index]
    assert (row.weight.si, row.friction.si) == (weight, friction)
    assert (row.strength and row.strength.uk, row.strength and row.strength.us) == (uk, us)


def test_weaker_states_of_a_kind_are_never_stronger_and_never_of_a_better_type() -> None:
    for weaker, stronger in pairwise(TABLES.soils.ground):
        if weaker.kind != stronger.kind:
            continue
        assert weaker.friction.si <= stronger.friction.si
        if weaker.strength and stronger.strength:
            assert weaker.strength.uk < stronger.strength.uk
            assert weaker.strength.us < stronger.strength.us


def test_the_stamp_changes_with_any_file(tmp_path: Path) -> None:
    folder = copied(tmp_path)
    before = load.load(folder).stamp
    assert before == load.stamp_of(folder)
    file = folder / "practice.toml"
    file.write_text(file.read_text(encoding="utf-8") + "\n# changed\n", encoding="utf-8")
    assert load.load(folder).stamp != before


def copied(tmp_path: Path) -> Path:
    return Path(shutil.copytree(load.DATA, tmp_path / "data"))


MISTAKES = [  # file, what stands there, what is put in its place, what the error must name
    (
        "practice.toml",
        'source = "practice"',
        'source = "hearsay"',
        ("practice.toml", "hearsay", "sources.toml"),
    ),
    (
        "practice.toml",
        "value = 0.02",
        'value = "a little"',
        ("practice.toml", "working_room.value", "number"),
    ),
    ("practice.toml", 'unit = "m"', 'unit = "cubit"', ("practice.toml", "working_room", "cubit")),
    ("practice.toml", "checked = 2026-11-25", "", ("practice.toml", "working_room.checked", "required")),
    ("practice.toml", "[working_room]", "[elbow_room]", ("practice.toml", "working_room", "required")),
    ("practice.toml", "[working_room]", "[working_room", ("practice.toml", "not valid TOML")),
    ("entry.toml", 'ladder = "ladder"', 'ladder = ""', ("entry.toml", "fact ladder", "no code judges")),
    ("entry.toml", '"units out" = "units out"', '"units out" = ""', ("entry.toml: done", "'units out'")),
    ("hazards.toml", "[hazard.frost]", "[hazard.forst]", ("hazards.toml: hazard.forst",)),
    ("soils.toml", 'kind = "rock"', 'kind = "chalk"', ("soils.toml", "ground: ", "no row for 'rock'")),
    ("pressures.toml", "ratio = 0.25", "ratio = 9.0", ("pressures.toml", "rise")),
    ("soils.toml", 'kind = "peat"', 'kind = "cheese"', ("soils.toml", "ground.0.kind")),
    ("soils.toml", 'stands = "never"', 'stands = "computed"', ("soils.toml", "ground.0", "strength")),
    ("rules.toml", "No strut of", "None of 2 struts of", ("rules.toml", "no-strut-fits", "digit")),
    ("rules.toml", 'fact = "face"', 'fact = "faec"', ("rules.toml", "running", "faec")),
    ("rules.toml", 'is = "one of"', 'is = "about"', ("rules.toml", "rule.running.when.0")),
    (
        "rules.toml",
        'value = 50.0, unit = "kPa" }]',
        'value = "50", unit = "kPa" }]',
        ("rules.toml", "number"),
    ),
    ("rulebook_uk.toml", 'kit = "light"', 'kit = "feather"', ("rulebook_uk.toml", "kit", "feather")),
    ("kits/light.toml", 'name = "light"', 'name = "lite"', ("light.toml", "name", "lite")),
    # The supplier's table: who approved it, on what basis, and no harder trench held more loosely.
    (
        "kits/light.toml",
        'basis = "working"',
        'basis = "characteristic"',
        ("light.toml", "table.basis", "working"),
    ),
    ("kits/light.toml", 'basis = "working"\n', "", ("light.toml", "table.basis", "required")),
    (
        "kits/light.toml",
        "[table.approved_by]",
        "[table.aproved_by]",
        ("light.toml", "table.approved_by", "required"),
    ),
    (
        "kits/light.toml",
        'registration = "none"\n',
        "",
        ("light.toml", "table.approved_by.registration", "required"),
    ),
    ("kits/light.toml", "issued = 2026-11-01\n", "", ("light.toml", "table.issued", "required")),
    ("kits/light.toml", "levels = 2", "levels = 0", ("light.toml", "table.row.1.levels", "greater")),
    ("kits/light.toml", "spacing_m = 0.9", "spacing_m = 1.6", ("light.toml", "table", "spacing_m is wider")),
    (
        "kits/light.toml",
        "width_m = 0.20",
        "width_m = 0.95",
        ("light.toml", "row.spacing_m", "no wider than a rail"),
    ),
    ("kits/light.toml", "levels = 1", "levels = 3", ("light.toml", "table", "levels are fewer")),
    ("kits/light.toml", "levels = 1", 'levels = 1\nstrut = ["tall"]', ("light.toml", "row.strut", "tall")),
    ("kits/light.toml", "ram_bar = 250.0", "ram_bar = 40.0", ("light.toml", "relief_bar exceeds ram_bar")),
    (
        "practice.toml",
        "[end_slope.C]\nvalue = 1.5",
        "[end_slope.C]\nvalue = 0.5",
        ("practice.toml", "steeper"),
    ),
    ("kits/light.toml", "height_m = 1.1", "height_m = 0", ("light.toml", "turned.height_m", "greater")),
    (
        "kits/light.toml",
        "height_m = 1.1",
        "height_m = 2.5",
        ("light.toml", "turned", "more than the whole face"),
    ),
    ("kits/light.toml", "height_m = 1.1\n", "", ("light.toml", "turned.height_m", "required")),
    (
        "kits/light.toml",
        "width_m = 0.20",
        "width_m = 0.55",
        ("light.toml", "turned", "no longer than it is wide"),
    ),
    (
        "kits/light.toml",
        'height_m = 1.1\nsource = "invented-kit"\n',
        "height_m = 1.1\n",
        ("light.toml", "turned.source", "required"),
    ),
    ("kits/light.toml", 'relief_at = "pump"\n', "", ("light.toml", "relief_at", "required")),
    ("practice.toml", "[beside.tree]", "[beside.hedge]", ("practice.toml", "beside.hedge")),
    (
        "entry.toml",
        "limit = { value = 1.0",
        "limit = { value = 0.6",
        ("entry.toml", "fact.spoil.limit", "1.0 m"),
    ),
    (
        "entry.toml",
        "from_depth = { value = 5",
        "from_depth = { value = 6",
        ("entry.toml", "fact.table-on-site-us.from_depth", "rulebook_us.toml"),
    ),
    ("kits/light.toml", "relief_bar", "releif_bar", ("light.toml", "relief_bar")),
    ("kits/light.toml", "open_m = 0.48", "open_m = 0.20", ("light.toml", "strut.0", "exceed")),
    ("kits/light.toml", "kn = 39.0", "kn = 43.0", ("light.toml", "fall as length rises")),
    (
        "kits/light.toml",
        "{ length_m = 1.50, kn = 27.0 }",
        "{ length_m = 0.90, kn = 27.0 }",
        ("light.toml", "reach"),
    ),
    ("kits/light.toml", "cohesive = 27.6", "cohesive = 60.0", ("light.toml", "relief_bar")),
    ("kits/light.toml", 'source = "invented-kit"', 'source = "brochure"', ("light.toml", "brochure")),
]


@pytest.mark.parametrize(("file", "there", "instead", "named"), MISTAKES)
def test_a_mistake_is_named_by_file_key_and_reason(
    tmp_path: Path, file: str, there: str, instead: str, named: tuple[str, ...]
) -> None:
    path = copied(tmp_path) / file
    text = path.read_text(encoding="utf-8")
    assert there in text
    path.write_text(text.replace(there, instead, 1), encoding="utf-8")
    with pytest.raises(DataError) as error:
        load.load(tmp_path / "data")
    for word in named:
        assert word in str(error.value)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    folder = copied(tmp_path)
    (folder / "soils.toml").unlink()
    with pytest.raises(DataError, match=r"soils\.toml: cannot be read"):
        load.load(folder)
