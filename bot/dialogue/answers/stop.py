"""Somebody says that nobody may be in or go in: it closes at once, and all who know of it hear it."""

from bot.dialogue.answers.base import Answer, Case, which
from bot.dialogue.answers.spread import alarm, named, still_in
from bot.dialogue.answers.unsure import bears_on, quoted
from bot.dialogue.replies import ReplyWriter
from knowledge.outcome import Noted
from knowledge.reading import Purpose

PURPOSE: Purpose = "stop"


def answer(case: Case) -> Answer:
    """Take it down for the trench named, else for those the sender spoke of lately, else for every one."""
    refs = bears_on(case) or ((case.place.ref,) if case.place.trench else ()) or tuple(case.context.trenches)
    if not refs:
        return which(case)
    trenches = [case.context.trenches.get(ref) or case.record for ref in refs if ref]
    records = tuple(case.told(case.event(), trench) for trench in trenches)
    where = ", ".join(named(trench) for trench in records)

    def news(pen: ReplyWriter) -> str:
        return pen.say("stop-alert", trench=where, name=case.person.name, words=quoted(case))

    text = " ".join(
        [case.pen.say("stopped", trench=where, name=case.person.name), *still_in(case.pen, records)]
    )
    ref = records[0].ref if len(records) == 1 else None
    return Answer(Noted(trench=ref), text, ref, records, alarm(case, records, news))
