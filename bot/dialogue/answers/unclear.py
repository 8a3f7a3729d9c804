"""Nothing was understood."""

from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.answers.unsure import unsure
from knowledge.outcome import Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "unclear"


def answer(case: Case) -> Answer:
    """What is not understood is not nothing.

    A picture or a voice message brings no words at all, and what was asked stays asked.
    """
    if case.message.text.strip():
        return unsure(case)
    asked = case.context.fresh.asked if case.context.fresh else ()
    return Answer(
        Unclear(why="no words"),
        case.pen.say("no-words", emergency=case.emergency),
        case.place.ref,
        asked=asked,
    )
