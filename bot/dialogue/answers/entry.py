"""May anyone go in? The service says what stands in the way; only the competent person lets anyone in."""

from dataclasses import replace

from bot.dialogue import replies
from bot.dialogue.answers import proof
from bot.dialogue.answers.base import Answer, Case, open_here, which
from knowledge.entry.may_enter import may_allow
from knowledge.outcome import Entry, Unclear
from knowledge.reading import Purpose
from knowledge.record.trench import Trench

PURPOSE: Purpose = "entry"


def answer(case: Case) -> Answer:
    """What stands in the way of entry; and the competent person's own leave, proved by a code."""
    if not case.place.ref and case.place.candidates:
        return which(case)
    reading = case.heard.reading
    if (reading.allow or reading.code) and case.place.trench and reading.whole:
        return _let_in(case)
    # A question is answered though words are left over; what they say may be danger, and is held open.
    asked = case.event(open_text=not reading.whole)
    record = case.told(asked) if case.place.trench else case.record
    outcome = case.entry(record)
    if not case.place.trench and not record.events:
        unknown = case.pen.say("entry-unknown", trench=record.ref) if record.ref else ""
        return Answer(
            outcome,
            replies.fit([unknown or case.pen.say("entry-no", trench="").lstrip(": "), open_here(case)]),
            case.place.ref,
        )
    changed = (record,) if case.place.trench else ()
    text = replies.fit([_said(case, outcome), *kit_examined(case)])
    return Answer(outcome, text, case.place.ref, changed)


def standing(case: Case, trench: Trench) -> Answer:
    """What stands in the way at a trench as it is on record."""
    outcome = case.entry(trench)
    return Answer(outcome, _said(case, outcome), trench.ref)


def kit_examined(case: Case) -> list[str]:
    """A caution where the thorough examination of the site's kit has run out."""
    until = case.site.kit_examined_until
    if until is None or case.context.now.astimezone(case.shift.zone).date() <= until:
        return []
    return [case.pen.say("kit-examined", date=f"{until:%d/%m/%Y}")]


def _said(case: Case, outcome: Entry) -> str:
    return replies.entry(case.pen, outcome, allows=case.may("allow"))


def _let_in(case: Case) -> Answer:
    if case.lapsed:
        text = case.pen.say("appointment-over", name=case.person.name)
        return Answer(Unclear(why="appointment ran out"), text, case.place.ref)
    if not case.may("allow"):
        return Answer(
            Unclear(why="not the competent person"), case.pen.say("allow-no-person"), case.place.ref
        )
    reading = case.heard.reading
    if reading.code is None:
        return _send_code(case)
    if not proof.proved(case, reading.code):
        return proof.wrong(case)
    given = case.event(code_ok=True)
    found = case.entry(case.told(given))
    # What is refused stays refused: no figure that is changed later, and no text that is late, lets them in.
    record = case.told(replace(given, until=found.until) if found.entry == "may" else case.event())
    outcome = case.entry(record)
    return Answer(outcome, _said(case, outcome), record.ref, (record,), wrong_codes=0)


def _send_code(case: Case) -> Answer:
    record = case.told()
    outcome: Entry = case.entry(record)
    if not may_allow(record, case.person.role, case.context.now, case.tables, case.shift):
        return Answer(outcome, _said(case, outcome), record.ref, (record,))
    return proof.ask(case, outcome, "allow-sent", record)
