"""A note kept with the trench: searchable, in its file, and it changes nothing."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from knowledge.outcome import Noted
from knowledge.reading import Purpose

PURPOSE: Purpose = "note"


def answer(case: Case) -> Answer:
    """Keep it. What in it is danger was heard before this."""
    if case.place.trench is None:
        return nowhere(case)
    record = case.told()
    pen, until = case.pen, case.heard.reading.until
    said = [pen.say("note", trench=record.ref, words=case.message.text[:60].strip())]
    said.append(pen.say("note-until", until=until) if until else "")
    return Answer(Noted(trench=record.ref, noted=(said[0],)), replies.fit(said), record.ref, (record,))
