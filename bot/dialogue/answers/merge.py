"""Two records made one, by the competent person alone: it is inspected anew after."""

from bot.dialogue.answers.base import Answer, Case, not_your_part, nowhere
from bot.dialogue.answers.rename import joined
from knowledge.reading import Purpose

PURPOSE: Purpose = "merge"


def answer(case: Case) -> Answer:
    """Join the first named into the second."""
    if not case.may("inspect"):
        return not_your_part(case)
    old, other = case.place.trench, case.context.trenches.get(case.heard.reading.to or "")
    if old is None or other is None or other.ref == old.ref:
        return nowhere(case)
    return joined(case, old, other)
