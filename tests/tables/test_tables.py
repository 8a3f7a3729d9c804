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


def test_weaker_ground_is_never_lighter_nor_of_a_better_type() -> None:
    # With two layers only the weaker name is kept: it must be designed at least as heavily as any above it.
    ground = [row for row in TABLES.soils.ground if row.stands != "never"]
    for weaker, stronger in pairwise(ground):
        assert weaker.weight.si >= stronger.weight.si
        if weaker.kind == stronger.kind and weaker.strength and stronger.strength:
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
