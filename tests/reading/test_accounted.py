"""What is left over of a report: a table, and properties of any report.

Source: the rule of the design, "what is not accounted for is not taken"; the table is tests/cases/whole.toml.
"""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.language.lexicon import load
from bot.reading.read import read

WORDS = load()
ENGLISH = WORDS.languages["en"]
CASES = tomllib.loads((Path(__file__).parents[1] / "cases" / "whole.toml").read_text(encoding="utf-8"))[
    "case"
]
WHOLE = [
    ["T7", "ladder", "in"],
    ["T7", "ladder", "tied"],
    ["T7", "all", "units", "set", "40 bar"],
    ["T7", "dug", "to", "1.6 m"],
    ["T7", "spoil", "1.5 m", "back"],
    ["T7", "ends", "battered"],
    ["T7", "no", "water"],
    ["T7", "air", "tested", "clear"],
    ["T7", "services", "located"],
    ["T7", "inspected", "safe"],
]
# Words that say nothing of another kind by themselves, so that they part no phrase and deny nothing.
PLAIN_FILLERS = sorted({"the", "now", "just", "also"} & ENGLISH.fillers)
BESIDE = ENGLISH.fillers | ENGLISH.manners | ENGLISH.places | ENGLISH.before_places | ENGLISH.nothing_of
BELONG = BESIDE.union(
    ENGLISH.addressed, *ENGLISH.companions.values(), *({*said.split()} for said in ENGLISH.closing)
)


def left_over(text: str) -> tuple[str, ...]:
    return read(text, WORDS).reading.left_over


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["text"])
def test_what_is_left_over(case: dict[str, object]) -> None:
    assert list(left_over(str(case["text"]))) == case["left_over"]


@pytest.mark.parametrize("words", WHOLE, ids=" ".join)
def test_the_reports_of_the_properties_are_whole(words: list[str]) -> None:
    assert left_over(" ".join(words)) == ()


@given(st.sampled_from(WHOLE), st.text("abcdefghijklmnopqrstuvwxyz", min_size=3, max_size=9), st.data())
def test_a_word_that_is_not_known_is_left_over(words: list[str], word: str, data: st.DataObject) -> None:
    if WORDS.knows(word) or ENGLISH.nearest(word) is not None:  # one of another language may turn the text
        return
    at = data.draw(st.integers(0, len(words)))
    # "dxd" is left over in its parts: it may be one length by another.
    assert word in "".join(left_over(" ".join([*words[:at], word, *words[at:]])))


@given(st.sampled_from(WHOLE), st.sampled_from(sorted(ENGLISH.small - BELONG)))
def test_a_small_word_that_belongs_to_no_report_is_left_over(words: list[str], word: str) -> None:
    said = read(" ".join([*words, word]), WORDS).reading
    known = ENGLISH.meanings(word)
    assert said.left_over or known or word in ENGLISH.numerals or word in ENGLISH.units


@given(st.sampled_from(WHOLE), st.sampled_from(PLAIN_FILLERS), st.data())
def test_a_filler_changes_nothing(words: list[str], word: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(1, len(words)))
    plain = read(" ".join(words), WORDS).reading
    said = read(" ".join([*words[:at], word, *words[at:]]), WORDS).reading
    assert (said.public(), said.left_over) == (plain.public(), ())


@given(st.sampled_from(WHOLE), st.integers(8, 99))
def test_a_second_reference_is_left_over(words: list[str], number: int) -> None:
    assert f"T{number}" in left_over(" ".join([*words, "and", f"T{number}"]))


@given(st.sampled_from(WHOLE), st.integers(0, 23), st.integers(0, 59))
def test_a_clock_time_is_left_over(words: list[str], hour: int, minute: int) -> None:
    assert f"{hour}:{minute:02d}" in left_over(" ".join([*words, "at", f"{hour}:{minute:02d}"]))


@given(st.sampled_from([words for words in WHOLE if "air" not in words]), st.integers(1, 100))
def test_per_cent_is_left_over(words: list[str], share: int) -> None:
    assert f"{share}%" in left_over(" ".join([*words, f"{share}%"]))


@given(st.sampled_from(WHOLE))
def test_no_report_with_a_question_mark_is_whole(words: list[str]) -> None:
    said = read(" ".join(words) + "?", WORDS).reading
    assert said.left_over or not (said.done or said.units_set or said.gauges)


@pytest.mark.parametrize(
    ("text", "so"),
    [
        ("T7 all gauges 40 bar", True),
        ("T7 gauges are all at 40 bar", True),
        ("T7 every gauge reads 40 bar", True),
        ("T7 40 bar on all", True),
        ("T7 gauges 40 bar", None),
        ("T7 all good gauge 40 bar", None),
        ("T7 gauge 40 bar all ok", None),
        ("T7 gauges 40 bar, all dry", None),
        ("T7 all gauges top row 40 bar", None),
        ("T7 all gauges 40 bar except unit 3", None),
        ("T7 all gauges 40 bar, rest later", None),
        ("T7 7 all 40 bar", None),
        ("T7 1-7 all 40 bar", None),
        ("T7 1 of all gauges 40 bar", None),
        ("T7 all gauges at my end 40 bar", None),
        ("T7 all gauges we checked 40 bar", None),
        ("T7 set all gauges to 40 bar", None),
        ("T7 all gauges over 40 bar", None),
        ("T7 gauges at all 40 bar", None),
        ("T7 are all gauges 40 bar?", None),
        ("T7 not all gauges 40 bar", None),
        ("T7 todos los manómetros a 40 bar", True),
        ("T7 wszystkie manometry na 40 bar", True),
        ("T7 wszystkie manometry mają być 40 bar", None),
        ("T7 toate manometrele la 40 bar", True),
        ("T7 toate manometrele peste 40 bar", None),
    ],
)
def test_of_which_texts_the_one_pressure_is_every_units(text: str, so: bool | None) -> None:
    assert read(text, WORDS).reading.of_every is so
