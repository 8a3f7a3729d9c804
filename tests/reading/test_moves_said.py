"""The job as it moves, as crews text it: each text means what its table says, and nothing more."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from bot.language.lexicon import load
from bot.reading.both import Readers
from knowledge.reading import Reading

CASES = Path(__file__).parents[1] / "cases" / "moves"
LANGUAGES = ("en", "es", "pl", "pt", "ro")
APART = {"danger", "agreed", "unread", "site_words"}  # what the second reader thinks, and which words it has


def said() -> list[tuple[str, str, dict[str, Any]]]:
    groups = tomllib.loads((CASES / "said.toml").read_text(encoding="utf-8"))["said"]
    return [(code, text, group["means"]) for group in groups for code in LANGUAGES for text in group[code]]


@pytest.fixture(scope="module")
def readers() -> Readers:
    return Readers(load())


@pytest.mark.parametrize(("code", "text", "means"), said(), ids=lambda value: str(value)[:60])
def test_a_move_means_what_it_says_and_nothing_more(
    readers: Readers, code: str, text: str, means: dict[str, Any]
) -> None:
    heard = readers.read(text, language=code)
    assert heard.reading.model_copy(update=dict.fromkeys(APART)) == Reading.model_validate(means).model_copy(
        update=dict.fromkeys(APART)
    )


def test_a_question_for_entry_may_be_a_whole_text(readers: Readers) -> None:
    groups = tomllib.loads((CASES / "said.toml").read_text(encoding="utf-8"))["asked"]
    heard = {text: readers.read(text).reading for group in groups for text in group["en"]}
    assert {text: (one.purpose, one.whole) for text, one in heard.items()} == dict.fromkeys(
        heard, ("entry", True)
    )


def test_every_move_is_said_in_many_ways_in_every_language() -> None:
    groups = tomllib.loads((CASES / "said.toml").read_text(encoding="utf-8"))["said"]
    assert all(len(group["en"]) >= 8 and len(set(group["en"])) == len(group["en"]) for group in groups)
    assert all(len(group[code]) >= 4 for group in groups for code in LANGUAGES[1:])


@pytest.mark.parametrize(
    "text",
    [
        "T7 not moved on 6 m",
        "T7 moving on 6 m tomorrow",
        "T7 should be 2 in by dinner",
        "T7 fence and lights not ok",
        "T7 all out but one",
        "T7 2 cleared by dave",
        "T7 maybe strip later",
        "T7 run 1 half backfilled",
        "T7 to be filled till 7",
        "take the ladder out T7",
        "T7 outside edge cracked",
        "T7 ready to backfill bar the ends",
        "T4 inspected ok before 0930",
        "T4 inspected ok at 0930 yesterday",
        "T4 inspection due at 0930",
        "T4 next inspection 0930",
        "T5 inspected ok and T6",
        "T5 and T6 inspected ok bar the ladder",
        "that was T4 not T3 with the ladder",
        "T4 no, T3",
        "T4 nie, T3",
        "T4? nu, T3",
    ],
)
def test_what_no_pattern_fits_whole_is_no_move(readers: Readers, text: str) -> None:
    reading = readers.read(text).reading
    told = (reading.moved, reading.heads, reading.run_m, reading.run, reading.guarded, reading.not_at)
    assert not any(told) and reading.purpose not in ("moved", "strip", "take", "parked", "merge")
    assert not (reading.whole and reading.done), reading
