"""What to do next."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from knowledge.entry.next_step import next_step
from knowledge.outcome import Told
from knowledge.reading import Purpose

PURPOSE: Purpose = "steps"


def answer(case: Case) -> Answer:
    """The next step of the dig or of the taking out, or what must be on record before it."""
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    pen = case.pen
    following = next_step(trench, case.context.now, case.tables, case.shift)
    if following.step:
        lines = [pen.say("next", trench=trench.ref, step=pen.catalog.sentence(following.step, pen.lengths))]
    elif following.missing:
        wanted = [pen.catalog.sentence(m, pen.lengths) for m in following.missing]
        lines = [pen.say("next-not-yet", trench=trench.ref), *wanted]
    elif trench.now.shores.standing:
        lines = [pen.say("next-dug-in", trench=trench.ref, example=pen.example("filled to"))]
    else:
        lines = [pen.say("next-none", trench=trench.ref)]
    told = Told(about="steps", trench=trench.ref, lines=tuple(lines))
    return Answer(told, replies.fit(lines), trench.ref)
