"""What to do next, or how a unit is made ready, set or taken out."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from knowledge.entry.next_step import NextStep, next_step
from knowledge.entry.steps import how_to
from knowledge.outcome import EntryFact, Told
from knowledge.reading import How, Purpose

PURPOSE: Purpose = "steps"
STANDS_STILL: tuple[EntryFact, ...] = ("open hazard", "stopped")  # nobody sets or takes out a unit then


def answer(case: Case) -> Answer:
    """How it is done, where that is asked; else the next step, or what must be on record before it."""
    how, trench = case.heard.reading.how, case.place.trench
    following = next_step(trench, case.context.now, case.tables, case.shift) if trench else NextStep()
    if how is not None and not any(each.fact in STANDS_STILL for each in following.missing):
        return _how(case, how)
    if trench is None:
        return nowhere(case)
    pen = case.pen
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


def _how(case: Case, how: How) -> Answer:
    """The lines that hold for any unit: they want no trench on record, and lead on to what is done next."""
    pen, trench = case.pen, case.place.trench
    rulebook = trench.rulebook if trench else case.site.rulebook
    lines = [pen.catalog.sentence(line, pen.lengths) for line in how_to(how, rulebook, case.tables)]
    ref = trench.ref if trench else None
    return Answer(
        Told(about="steps", trench=ref, lines=tuple(lines)), replies.fit(lines, last=pen.say("how-more")), ref
    )
