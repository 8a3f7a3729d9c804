"""What the units on the van will hold: a run at the plan's spacing, and how many more for the whole."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from knowledge.outcome import Told
from knowledge.reading import Purpose
from knowledge.record.trench import details
from knowledge.sizing.size import size
from knowledge.sizing.units_at_hand import holds_run, units_for

PURPOSE: Purpose = "van"


def answer(case: Case) -> Answer:
    """Tell it. Nothing of it is a length of the trench, and nothing goes on record."""
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    pen, n = case.pen, case.heard.reading.van or 0
    known = details(trench)
    outcome = size(known, case.tables, trench.rulebook, trench.kit)
    run = holds_run(n, known, case.tables, trench.rulebook, trench.kit)
    if run is None and outcome.kind != "sized":
        text = pen.say("van-unsized", trench=trench.ref)
        return Answer(Told(about="van", trench=trench.ref, lines=(text,)), text, trench.ref)
    if run is None:
        said = [pen.say("van-none", trench=trench.ref, units=str(n))]
    else:
        said = [pen.say("van", trench=trench.ref, units=str(n), run=pen.length(run, "upper"))]
    if known.length_m is not None and outcome.kind == "sized":
        more = max(0, (units_for(known, case.tables, trench.rulebook, trench.kit) or 0) - n)
        whole = pen.told(known.length_m)
        said.append(pen.say("van-more", units=str(more), length=whole) if more else pen.say("van-enough"))
    return Answer(Told(about="van", trench=trench.ref, lines=tuple(said)), replies.fit(said), trench.ref)
