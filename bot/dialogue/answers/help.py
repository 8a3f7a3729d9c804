"""What can be texted."""

from bot.dialogue.answers.base import Answer, Case
from knowledge.outcome import Told
from knowledge.reading import Purpose

PURPOSE: Purpose = "help"


def answer(case: Case) -> Answer:
    text = case.pen.say("help")
    return Answer(Told(about="help", lines=(text,)), text, case.place.ref)
