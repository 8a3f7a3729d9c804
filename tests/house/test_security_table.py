"""Every test that the security table names is there."""

import re

import pytest
from places import ROOT, exists

NAMED = re.findall(r"`(tests/[^`]*::[^`]*)`", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))


@pytest.mark.parametrize("place", NAMED)
def test_what_the_table_names_is_there(place: str) -> None:
    assert exists(place)


def test_the_table_names_tests() -> None:
    assert len(NAMED) > 30


def test_every_attack_that_went_through_has_its_test() -> None:
    _, _, after = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("### Attacks\n")
    rows = re.findall(r"^\| (.*) \| (.*) \|$", after.partition("\n#")[0], re.M)[2:]
    assert len(rows) >= 25 and all(re.search(r"`tests/[^`]*::[^`]*`", held) for _, held in rows)
