"""May anyone go in? The service says what stands in the way; only the competent person lets anyone in."""

import hmac

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, which
from bot.dialogue.answers.unsure import MOST_WORDS
from bot.message import Alert
from knowledge.entry.may_enter import code_lapses, may_allow
from knowledge.entry.missing import missing_of
from knowledge.outcome import Entry, Unclear
from knowledge.reading import Purpose
from knowledge.record.trench import Trench
from knowledge.units import Amount

PURPOSE: Purpose = "entry"


def answer(case: Case) -> Answer:
    """What stands in the way of entry; and the competent person's own leave, proved by a code."""
    if not case.place.ref and case.place.candidates:
        return which(case)
    reading = case.heard.reading
    if (reading.allow or reading.code) and case.place.trench and reading.whole:
        return _let_in(case)
    record = case.told() if case.place.trench else case.record
    outcome = case.entry(record)
    if outcome.entry == "may" and not reading.whole:
        outcome = _not_with_these_words(case, record)
    changed = (record,) if case.place.trench else ()
    text = replies.fit([replies.entry(case.pen, outcome), *kit_examined(case)])
    return Answer(outcome, text, case.place.ref, changed)


def kit_examined(case: Case) -> list[str]:
    """A caution where the thorough examination of the site's kit has run out."""
    until = case.site.kit_examined_until
    if until is None or case.context.now.astimezone(case.shift.zone).date() <= until:
        return []
    return [case.pen.say("kit-examined", date=f"{until:%d/%m/%Y}")]


def _not_with_these_words(case: Case, record: Trench) -> Entry:
    """A question is answered though words are left over, but never with `may`: they may be a condition."""
    numbers: dict[str, Amount | str] = {
        "name": case.person.name,
        "since": case.shift.clock(case.at, case.context.now),
        "words": case.message.text[:MOST_WORDS],
    }
    missing = missing_of(record.rulebook, "open text", "open", numbers, case.tables)
    return Entry(trench=record.ref, entry="no", missing=(missing,))


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
    if not _proved(case, reading.code):
        text = case.pen.say("allow-wrong-code", trench=case.record.ref)
        return Answer(Unclear(why="wrong or old code"), text, case.place.ref)
    record = case.told(case.event(code_ok=True))
    outcome = case.entry(record)
    return Answer(outcome, replies.entry(case.pen, outcome), record.ref, (record,))


def _send_code(case: Case) -> Answer:
    """The code goes to the number on file, not back the way the message came: a forger never reads it."""
    record = case.told()
    outcome: Entry = case.entry(record)
    if not may_allow(record, case.person.role, case.context.now, case.tables, case.shift):
        return Answer(outcome, replies.entry(case.pen, outcome), record.ref, (record,))
    until = code_lapses(case.context.now, case.tables)
    code = case.pen.say("allow-code", trench=record.ref, until=case.pen.time(until), code=case.context.code)
    return Answer(
        outcome,
        case.pen.say("allow-sent", trench=record.ref),
        record.ref,
        (record,),
        (Alert(to=case.person.number, text=code, why="code", urgent=True),),
        code=case.context.code,
        code_until=until,
    )


def _proved(case: Case, code: str) -> bool:
    thread = case.context.thread
    return bool(
        thread
        and thread.code
        and thread.code_trench == case.record.ref
        and thread.code_until
        and case.context.now <= thread.code_until
        and hmac.compare_digest(thread.code.encode(), code.encode())
    )
