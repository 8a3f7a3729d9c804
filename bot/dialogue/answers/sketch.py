"""Where the units go, in words and as a picture."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from knowledge.outcome import Told, Unclear
from knowledge.reading import Purpose
from knowledge.record.runs import current

PURPOSE: Purpose = "sketch"


def answer(case: Case) -> Answer:
    """Where the units go, level by level along the trench, as the plan in force has them."""
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    if trench.plan is None or not trench.now.holds:
        return Answer(
            Unclear(why="no plan in force"), case.pen.say("sketch-none", trench=trench.ref), trench.ref
        )
    run = current(trench.now) if trench.now.runs else None
    lines = replies.sketch(case.pen, trench.ref, trench.plan, run)
    told = Told(about="sketch", trench=trench.ref, lines=tuple(lines))
    text = replies.fit(lines, last=case.context.sketch_link)
    return Answer(told, text, trench.ref, sketched=trench)
