"""On what ground the last answer stands."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from knowledge.outcome import Sized, Stop, Told
from knowledge.reading import Purpose
from knowledge.record.trench import details
from knowledge.sizing.size import size

PURPOSE: Purpose = "why"


def answer(case: Case) -> Answer:
    """On what ground: what governed the sizing, or what stands in the way."""
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    outcome = size(details(trench), case.tables, trench.rulebook, trench.kit)
    if isinstance(outcome, Sized):
        lines = replies.grounds(case.pen, outcome)
    elif isinstance(outcome, Stop):
        lines = [case.pen.catalog.sentence(refusal, case.pen.lengths) for refusal in outcome.stop]
    else:
        lines = [case.pen.question(outcome.questions[0], details(trench))]
    return Answer(
        Told(about="why", trench=trench.ref, lines=tuple(lines)),
        replies.fit([f"{trench.ref}:", *lines]),
        trench.ref,
    )
