"""A trench left open: leave ends, and somebody looks after its fence and lights."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from bot.dialogue.answers.spread import named, news_to, still_in, supervisors
from bot.dialogue.replies import ReplyWriter
from knowledge.outcome import Noted, Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "parked"


def answer(case: Case) -> Answer:
    """Take down that it stays open, until when, and who looks after it."""
    if case.place.trench is None:
        return nowhere(case)
    if not case.may("tell"):
        text = case.pen.say("not-your-part", name=case.person.name)
        return Answer(Unclear(why=f"not for the {case.person.role}"), text, case.place.ref)
    record = case.told()
    pen, guarded = case.pen, case.heard.reading.guarded == "fence and lights"
    keeper = _keeper(case)
    every = f"{case.tables.entry.figure.guard.value:.0f} h"
    said = [
        pen.say("parked", trench=record.ref, name=keeper, every=every),
        "" if guarded else pen.say("parked-bare", trench=record.ref),
        *still_in(pen, [record]),
    ]

    def news(pen: ReplyWriter) -> str:
        return pen.say("parked-news", trench=named(record), name=case.person.name, keeper=keeper)

    alerts = news_to(case, [*supervisors(case), *record.now.told], news)
    return Answer(
        Noted(trench=record.ref, noted=(said[0],)), replies.fit(said), record.ref, (record,), alerts
    )


def _keeper(case: Case) -> str:
    """Who has taken the trench over, else who left it so."""
    handed = case.record.now.handed
    return handed.name if handed and handed.taken else case.person.name
