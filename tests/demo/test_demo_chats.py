"""Every story still goes as written, to the letter. Its `Check` lines are worked by hand."""

from pathlib import Path

import pytest

from bot.config.basis import Basis
from bot.demo.chat_file import read_story
from bot.demo.play import play

FOLDER = Path(__file__).parents[2] / "demo_chats"
STORIES = sorted(FOLDER.glob("*.chat"))


def test_there_are_stories() -> None:
    assert len(STORIES) >= 8


@pytest.mark.parametrize("file", STORIES, ids=[file.stem for file in STORIES])
def test_a_story_goes_as_written(file: Path, basis: Basis) -> None:
    story = read_story(file)
    assert story.said and any(said.checks for said in story.said)
    assert [why for one in play(story, basis) for why in one.differs] == []
