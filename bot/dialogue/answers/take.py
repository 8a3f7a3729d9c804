"""Somebody takes a trench over."""

from bot.dialogue.answers.base import Answer, Case, told_of
from bot.dialogue.answers.handover import line
from bot.dialogue.answers.spread import named, news_to, supervisors
from bot.dialogue.replies import ReplyWriter
from knowledge.outcome import Noted
from knowledge.reading import Purpose

PURPOSE: Purpose = "take"


def answer(case: Case) -> Answer:
    """From now on it is theirs; who handed it over hears so."""
    trench = told_of(case)
    if isinstance(trench, Answer):
        return trench
    record = case.told()
    handed = trench.now.handed

    def news(pen: ReplyWriter) -> str:
        return pen.say("taken-news", trench=named(record), name=case.person.name)

    text = f"{case.pen.say('taken-over', trench=record.ref)} {line(case, record)}"
    givers = [handed.number] if handed else list(record.now.told)
    alerts = news_to(case, [*givers, *supervisors(case)], news)
    return Answer(Noted(trench=record.ref, noted=(text,)), text, record.ref, (record,), alerts)
