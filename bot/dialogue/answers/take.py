"""Somebody takes a trench over."""

from bot.dialogue.answers.base import Answer, Case, nowhere
from bot.dialogue.answers.handover import line
from bot.dialogue.answers.spread import named, news_to, supervisors
from bot.dialogue.replies import ReplyWriter
from knowledge.outcome import Noted, Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "take"


def answer(case: Case) -> Answer:
    """From now on it is theirs; who handed it over hears so."""
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    if not case.may("tell"):
        text = case.pen.say("not-your-part", name=case.person.name)
        return Answer(Unclear(why=f"not for the {case.person.role}"), text, trench.ref)
    record = case.told()
    handed = trench.now.handed

    def news(pen: ReplyWriter) -> str:
        return pen.say("taken-news", trench=named(record), name=case.person.name)

    text = f"{case.pen.say('taken-over', trench=record.ref)} {line(case, record)}"
    givers = [handed.number] if handed else list(record.now.told)
    alerts = news_to(case, [*givers, *supervisors(case)], news)
    return Answer(Noted(trench=record.ref, noted=(text,)), text, record.ref, (record,), alerts)
