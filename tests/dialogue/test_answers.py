"""A purpose is one file in bot/dialogue/answers/; one without a file, or with two, stops the start."""

from typing import Literal, get_args

import pytest

from bot.dialogue.answers import again, base
from bot.dialogue.conversation import ANSWERS
from knowledge.reading import Purpose


def test_every_purpose_is_answered_by_the_file_that_says_so() -> None:
    assert ANSWERS.keys() == set(get_args(Purpose))
    for purpose, answer in ANSWERS.items():
        assert answer.__module__ == f"bot.dialogue.answers.{purpose.replace(' ', '_')}"


def test_a_purpose_without_an_answer_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(base, "Purpose", Literal[(*get_args(Purpose), "weather")])
    with pytest.raises(LookupError, match=r"knowledge/reading\.py: Purpose: 'weather' has no answer"):
        base.found()


@pytest.mark.parametrize(
    ("purpose", "told"),
    [("why", "'why' is answered in two files"), ("weather", r"'weather' is not in knowledge/reading\.py")],
)
def test_an_answer_to_another_ones_purpose_or_to_none_is_refused(
    monkeypatch: pytest.MonkeyPatch, purpose: str, told: str
) -> None:
    monkeypatch.setattr(again, "PURPOSE", purpose, raising=False)
    with pytest.raises(LookupError, match=r"bot/dialogue/answers/\w+\.py: PURPOSE: " + told):
        base.found()
