"""Somebody on the list asks to join: they may text already. Who is not on it is heard in `stranger.py`."""

from bot.dialogue.answers.base import Answer, Case
from knowledge.outcome import Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "join"


def answer(case: Case) -> Answer:
    """Say where they are."""
    text = case.pen.say("joined-already", name=case.person.name, site=case.site.name)
    return Answer(Unclear(why="on the list already"), text)
