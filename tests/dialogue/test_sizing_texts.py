"""What is told of a trench is never mixed up, and what is not read never passed over: whole conversations."""

from collections.abc import Iterator
from typing import Any

import pytest
from complete_day import ASK, Day

from bot.config.basis import Basis

SIZED = "T7 depth 1.6 width 0.9 length 6 firm clay"


@pytest.fixture
def day(basis: Basis) -> Iterator[Day]:
    talk = Day(basis)
    yield talk
    talk.close()


def _last(day: Day, *texts: str) -> tuple[dict[str, Any], str]:
    said = [day.say("F", text) for text in texts][-1]
    return said.outcome, said.reply


@pytest.mark.parametrize(
    ("asked_about", "answer", "shown"),
    [
        (f"{SIZED}, house next to it", "1.2 m", "Building 1.2 m from the edge"),
        (f"{SIZED}, house next to it", "its 1.2m off", "Building 1.2 m from the edge"),
        (f"{SIZED}, gas 3m/0.6", "at 3m 0.6 down", "gas at 3 m, 0.6 m down"),
        (f"{SIZED}, gas 3m/0.6", "0.6 down at 3m", "gas at 3 m, 0.6 m down"),
        ("T7 1.6 x 0.9 firm clay", "first is depth", "1.6 m deep, 0.9 m wide"),
        ("T7 depth 1.6 firm clay", "0.9", "1.6 m deep, 0.9 m wide"),
    ],
)
def test_an_answer_is_of_what_was_asked(day: Day, asked_about: str, answer: str, shown: str) -> None:
    assert shown in _last(day, asked_about, answer)[1]


@pytest.mark.parametrize(
    ("asked_about", "answer"),
    [
        ("T7 depth 1.6 width 0.9 clay", "0.8m"),  # how firm is the clay?
        (f"{SIZED}, gas 3m/0.6", "0.8m"),  # where along the trench, and how deep?
        (f"{SIZED}, tree beside it and a wall next to it", "2m"),  # which of the two?
        (f"{SIZED}, house next to it", "the gas main is marked"),
    ],
)
def test_what_answers_something_else_is_no_answer(day: Day, asked_about: str, answer: str) -> None:
    before, _ = _last(day, asked_about)
    after, _ = _last(day, answer)
    assert after["kind"] == "ask"
    assert after["questions"][0] == before["questions"][0]


def test_the_time_in_a_whole_report_is_no_answer_to_a_length(day: Day) -> None:
    outcome, reply = _last(day, "T7 depth 1.6 width 0.9 firm clay, spoil 1.5m long", "T7 air test ok at 0800")
    assert outcome["kind"] == "noted" and "air test" in reply


def test_more_units_than_the_plan_has_are_asked_about(day: Day) -> None:
    _, reply = _last(day, SIZED, "T7 16 units set all at 40 bar")
    assert reply.startswith("T7: the plan has 14 units, you say 16.")
    assert "No units reported set" in _last(day, "can we go in T7")[1]
    assert "14 units set" in _last(day, "T7 7 top 7 bottom, 40 bar each")[1]


@pytest.mark.parametrize(
    "text",
    [
        "T7 1.7 deep 0.9 wide firm clay, T8 2 deep 1 wide soft clay",
        "T7 and T8 both 1.7 deep 0.9 wide firm clay",
        "T7 1.7 deep 0.9 wide firm clay T8 same but 2 deep",
    ],
)
def test_two_trenches_in_one_text_are_named_and_neither_takes_figures(day: Day, text: str) -> None:
    outcome, reply = _last(day, text)
    assert outcome["questions"] == ["trench"]
    assert "T7, T8" in reply
    assert "1.7" not in _last(day, "T7")[1]


def test_two_trenches_in_one_text_hold_one_that_has_a_plan(day: Day) -> None:
    _last(day, SIZED, "T7 1.9 deep 0.9 wide firm clay, T8 2 deep 1 wide soft clay")
    assert "Not understood" in day.say("S", ASK).reply


@pytest.mark.parametrize("asks", [SIZED, "T7 depth 1.6 firm clay", "T7 1.6 x 0.9 firm clay"])
@pytest.mark.parametrize("meanwhile", ["T7 ladder in", "T7 width 0.9 m", "T7 spoil back 1.5m"])
def test_what_was_not_read_holds_entry_whatever_else_is_told(day: Day, asks: str, meanwhile: str) -> None:
    assert "gabion 1.4m" in _last(day, f"{asks}, gabion 1.4m")[1]
    _last(day, meanwhile)
    assert "Not understood" in day.say("S", ASK).reply


@pytest.mark.parametrize("otherwise", [f"{SIZED}, wall 1.9 m away", "T7 wall 1.9 m away", "T7 IGNORE"])
def test_what_was_not_read_is_said_otherwise_or_ignored(day: Day, otherwise: str) -> None:
    _last(day, f"{SIZED}, gabion 1.9m", otherwise)
    assert "Not understood" not in day.say("S", ASK).reply


def test_the_plan_stands_beside_what_was_not_read(day: Day) -> None:
    _, reply = _last(day, f"{SIZED}, gabion 1.4m")
    assert reply.startswith("Not read:")
    assert "14 units" in reply
