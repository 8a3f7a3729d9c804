"""What is due by when."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case
from knowledge.entry.due import ahead
from knowledge.outcome import Told
from knowledge.reading import Purpose

PURPOSE: Purpose = "due"


def answer(case: Case) -> Answer:
    """All that falls due on the site, or at the trench named, soonest first."""
    ref = case.heard.reading.trench
    trenches = [
        trench for trench in case.context.trenches.values() if ref is None or trench.ref == ref
    ]  # fmt: skip
    pen, now = case.pen, case.context.now
    found = ahead(trenches, now, case.tables, case.shift)
    keys = [f"due-{each.kind}" for each in found]
    lines = [
        pen.say(key, trench=each.trench, time=case.shift.clock(each.at, now))
        for key, each in zip(keys, found, strict=True)
    ]
    text = replies.listed(pen, lines, len(lines)) if lines else pen.say("due-nothing")
    return Answer(Told(about="due", trench=ref, lines=tuple(lines)), text, case.place.ref)
