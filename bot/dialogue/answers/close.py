"""Closing a trench."""

from bot.dialogue.answers.base import Answer, Case, nowhere
from bot.dialogue.answers.unsure import open_text
from knowledge.outcome import Told, Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "close"


def answer(case: Case) -> Answer:
    """Closing a trench in which units are still on record is refused."""
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    if not case.heard.reading.whole:
        return open_text(case)
    if not case.may("close"):
        text = case.pen.say("not-your-part", name=case.person.name)
        return Answer(Unclear(why=f"not for the {case.person.role}"), text, trench.ref)
    if trench.now.shores.standing:
        text = case.pen.say("close-first", trench=trench.ref, units=str(trench.now.shores.standing))
        return Answer(Unclear(why="units still in"), text, trench.ref)
    text = case.pen.say("closed", trench=trench.ref)
    return Answer(Told(about="close", trench=trench.ref, lines=(text,)), text, trench.ref, (case.told(),))
