"""Nothing was understood."""

from bot.dialogue.answers.base import Answer, Case
from knowledge.outcome import Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "unclear"


def answer(case: Case) -> Answer:
    """Nothing was understood; a picture or a voice message brings no words at all,
    and what was asked stays asked."""
    if case.message.text.strip():
        return Answer(Unclear(why="not understood"), case.pen.say("unclear"), case.place.ref)
    asked = case.context.fresh.asked if case.context.fresh else ()
    return Answer(Unclear(why="no words"), case.pen.say("no-words"), case.place.ref, asked=asked)
