"""Every paragraph that bears on this work is handled somewhere that exists, or it says why not."""

import pytest
from places import exists

from knowledge.sourced import DataError, parse
from knowledge.tables.coverage import Coverage, Paragraph
from knowledge.tables.load import DATA

COVERAGE = parse(DATA / "coverage.toml", Coverage)
HANDLED = [(t.source, p.at, w) for t in COVERAGE.text for p in t.paragraph for w in p.where]


@pytest.mark.parametrize(("source", "at", "where"), HANDLED)
def test_what_is_said_to_be_handled_is(source: str, at: str, where: str) -> None:
    assert exists(where), f"{source} {at}: no {where}"


def test_the_paragraphs_with_duties_are_all_there() -> None:
    """Paragraph numbers of 29 CFR 1926.651 (R1, R2, M-H) and CDM 2015 regs 22 to 24 (M-H)."""
    listed = {(t.source, p.at) for t in COVERAGE.text for p in t.paragraph}
    for letter in "abcdefghijkl":
        assert any(source == "cfr-1926-651" and at.startswith(f"({letter})") for source, at in listed), letter
    for letter in "abcdefg":
        assert any(source == "cfr-1926-652" and at.startswith(f"({letter})") for source, at in listed), letter
    for part in ("22(1)", "22(2)", "22(3)", "22(4)", "22(5)", "23", "24(1)", "24(3)", "24(4)"):
        assert any(source == "cdm-2015" and at.startswith(f"reg {part}") for source, at in listed), part


def test_a_place_that_is_not_there_is_found_out() -> None:
    assert exists("rules.toml#rule.ladder")
    assert exists("hazards.toml#hazard.plant close")
    assert not exists("rules.toml#rule.no-such-rule")
    assert not exists("no_such.toml#rule")
    assert not exists("knowledge/sizing/row.py::no_such_name")
    assert not exists("tests/no_such_test.py")


def test_a_paragraph_needs_one_answer() -> None:
    with pytest.raises(DataError, match="either"):
        parse(DATA / "x.toml", Paragraph, {"at": "(a)", "about": "nothing said"})
    with pytest.raises(DataError, match="either"):
        parse(DATA / "x.toml", Paragraph, {"at": "(a)", "about": "both", "where": ["x"], "not": "y"})
