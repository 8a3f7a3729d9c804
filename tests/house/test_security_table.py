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
