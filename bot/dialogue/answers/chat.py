"""A text that is surely about no trench: one line back, and nothing is closed by it."""

from bot.dialogue.answers.base import Answer, Case
from knowledge.outcome import Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "chat"


def answer(case: Case) -> Answer:
    """Say that nothing was taken down."""
    return Answer(Unclear(why="chat"), case.pen.say("chat"), None)
