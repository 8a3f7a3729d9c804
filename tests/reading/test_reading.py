"""Readings against tables of messages, each with the reading that the public contract gives it.

Source of every row: the rules and examples of the reading contract (README, "What is read"); trade
words: common practice, no source. Rows were written apart from the reader.
"""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from bot.language.lexicon import Lexicon, load
from bot.reading.accuracy import differences
from bot.reading.read import read

CASES = Path(__file__).parents[1] / "cases" / "reading"


def _cases() -> list[Any]:
    rows = []
    for file in sorted(CASES.glob("*.toml")):
        for number, case in enumerate(tomllib.loads(file.read_text(encoding="utf-8"))["case"], 1):
            rows.append(pytest.param(case, id=f"{file.stem}-{number}-{case['text'][:50]}"))
    return rows


@pytest.fixture(scope="module")
def words() -> Lexicon:
    return load()


@pytest.mark.parametrize("case", _cases())
def test_reads_as_the_contract_says(case: dict[str, Any], words: Lexicon) -> None:
    asked = tuple(case.get("asked", ()))
    got = read(case["text"], words, asked, case.get("earlier", "")).reading.public()
    free = set(case.get("free", ()))
    wanted = dict(case["expect"])
    if asked:  # an answer is not called on for what else is untold
        got["questions"] = [name for name in got.get("questions", []) if name in asked]
    for reading in (got, wanted):
        reading["questions"] = [name for name in reading.get("questions", []) if name not in free]
    assert differences(got, wanted, free) == {}
