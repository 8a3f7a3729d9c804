"""What can be texted next: for the trench spoken of, as it stands, else how one is sized."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, open_here
from knowledge.outcome import Told
from knowledge.reading import Purpose
from knowledge.record.trench import Trench

PURPOSE: Purpose = "help"
MOST_EXAMPLES = 4  # as many as one thumb types
# In the order of the work; what is not here comes last.
ORDER = ("services", "units", "pressure", "gap below", "water", "ladder", "ends", "spoil", "air test")


def answer(case: Case) -> Answer:
    """What the sender can do next on their trench, in words that are read."""
    pen, trench = case.pen, case.place.trench
    lines = [_next(case, trench)] if trench else [pen.say("help-size", example=pen.example("size"))]
    if trench is None and case.context.trenches:
        lines.append(open_here(case))
    lines.append(pen.say("help-ask"))
    return Answer(Told(about="help", lines=tuple(lines)), replies.fit(lines), case.place.ref)


def _next(case: Case, trench: Trench) -> str:
    pen, outcome = case.pen, case.entry(trench)
    if trench.now.taking_out or outcome.allowed_by:
        return pen.say("help-strip", example=pen.example("filled to"))
    if outcome.entry == "may":
        return replies.entry(pen, outcome, allows=case.may("allow"))
    if trench.plan is None:
        return pen.say("help-size", example=pen.example("size"))
    examples = list(dict.fromkeys(_examples(case, trench)))[:MOST_EXAMPLES]
    if not examples:
        return replies.entry(pen, outcome)
    return pen.say(
        "help-report", trench=trench.ref, examples="; ".join(f"{trench.ref} {one}" for one in examples)
    )


def _examples(case: Case, trench: Trench) -> list[str]:
    """How what is missing is reported, by those who may report it."""
    told_by = case.told_by(trench)
    facts = [one.fact for one in case.entry(trench).missing if one.fact in told_by]
    facts.sort(key=lambda fact: ORDER.index(fact) if fact in ORDER else len(ORDER))
    return [case.pen.example(told_by[fact]) for fact in facts]
