"""Trench details told: ask for what is missing, refuse, or size."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case
from knowledge.outcome import Ask, Sized, Stop
from knowledge.reading import Details, Purpose, details_of
from knowledge.record.trench import Trench, details
from knowledge.sizing.size import size

PURPOSE: Purpose = "size"


def answer(case: Case) -> Answer:
    """Size the trench as told so far, this message included.

    A figure that this message left in doubt is asked about, and no earlier one stands in for it. Until a
    sizing comes of the message no plan is in force. Who may not tell about a trench gets an answer on
    the figures alone, and nothing goes on record.
    """
    if not case.may("tell"):
        told = details_of(case.heard.reading)
        return _answer(case, size(told, case.tables, case.site.rulebook, case.record.kit), told)
    known = details(case.told())
    doubtful = tuple(q for q in case.heard.doubtful if q in Details.model_fields)
    if doubtful:
        return _answer(case, Ask(questions=doubtful), known, case.told(case.event(stopped=True)))
    outcome = size(known, case.tables, case.record.rulebook, case.record.kit)
    if isinstance(outcome, Sized):
        event = case.event(plan=outcome, sized_on=known, open_text=bool(case.heard.reading.unread))
        return _answer(case, outcome, known, case.told(event))
    return _answer(case, outcome, known, case.told(case.event(stopped=True)))


def _answer(case: Case, outcome: Ask | Stop | Sized, known: Details, record: Trench | None = None) -> Answer:
    ref = case.place.ref or ""
    pen, manner = case.pen, case.heard.manner
    notes = case.notes(record) if record else []
    asked: tuple[str, ...] = ()
    if isinstance(outcome, Ask):
        asked = outcome.questions
        unsure = asked[0] in case.heard.doubtful and asked[0].endswith("_m")
        text = replies.fit([*replies.ask(pen, outcome, ref, known, manner, unsure), *notes])
    elif isinstance(outcome, Stop):
        text = replies.stop(pen, outcome, ref, known, manner, notes)
    else:
        asked = outcome.questions
        unread = case.heard.reading.unread
        first = pen.say("not-read", words=" ".join(unread)[:40]) if unread else ""
        text = replies.sized(pen, outcome, ref, known, manner, first=first, notes=notes)
    return Answer(outcome, text, ref, (record,) if record else (), asked=asked)
