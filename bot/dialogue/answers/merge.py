"""Two records made one, by the competent person alone: it is inspected anew after."""

from bot.dialogue.answers.base import Answer, Case, nowhere
from bot.dialogue.answers.rename import joined
from knowledge.outcome import Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "merge"


def answer(case: Case) -> Answer:
    """Join the first named into the second."""
    old, new = case.place.trench, case.heard.reading.to
    if not case.may("inspect"):
        text = case.pen.say("not-your-part", name=case.person.name)
        return Answer(Unclear(why="not the competent person"), text, case.place.ref)
    other = case.context.trenches.get(new or "")
    if old is None or other is None or other.ref == old.ref:
        return nowhere(case)
    return joined(case, old, other)
