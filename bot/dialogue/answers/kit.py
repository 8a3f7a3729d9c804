"""What to load."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere, which
from knowledge.outcome import Told
from knowledge.reading import Purpose
from knowledge.record.trench import details
from knowledge.sizing.load_list import load_list

PURPOSE: Purpose = "kit"


def answer(case: Case) -> Answer:
    """What to load: for the trench spoken of, or for every open one that is sized."""
    chosen = [case.place.trench] if case.place.trench else list(case.context.trenches.values())
    planned = [(t, t.plan) for t in chosen if t and t.plan]
    kits = {plan.kit for _, plan in planned}
    if not planned:
        return nowhere(case)
    if len(kits) > 1:
        return which(case)
    load = load_list(
        [(plan, details(t)) for t, plan in planned], case.tables.kits[kits.pop()], case.tables.lifting
    )
    refs = ", ".join(t.ref for t, _ in planned)
    lines = case.pen.load(refs, load)
    told = Told(about="kit", trench=refs if len(planned) == 1 else None, lines=tuple(lines))
    return Answer(told, replies.fit(lines), case.place.ref)
