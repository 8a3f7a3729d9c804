"""The code that proves who lets people in, or opens what stands closed: sent to the number on file.

Whoever can write another's number on a text cannot read what is sent to that number. Wrong tries are counted
over every code, and too many of them end the sender's codes for a while.
"""

import hmac
from dataclasses import replace

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.replies import ReplyWriter
from bot.message import Alert, Opening, Thread
from knowledge.entry.may_enter import code_lapses
from knowledge.outcome import Outcome, Unclear
from knowledge.record.trench import Trench

MOST_WORDS = 60  # of a text, said back


def needed(case: Case) -> bool:
    """Whether this text opens something, and came by a way on which anybody can write its sender's number."""
    return not case.context.proven and opens(case)


def opens(case: Case) -> bool:
    """Whether a supervisor's text takes away what stands against entry: an inspection after danger or a stop,
    SEEN, ALL SAFE, units cleared for use, two trenches made one."""
    reading = case.heard.reading
    if not case.may("inspect") or not reading.whole or reading.hazards:
        return False
    if reading.same_as or reading.purpose == "merge" or reading.answer in ("seen", "all safe"):
        return True
    state = case.record.now
    if reading.moved and reading.moved.how == "cleared":
        return bool(state.tagged)
    return "inspection" in reading.done and closed_by_words(case.record)


def closed_by_words(record: Trench) -> bool:
    """Whether danger or a stop stands against entry, which an inspection takes away."""
    return bool(record.now.hazards or record.now.possible or record.now.stopped)


def ask(case: Case, outcome: Outcome, key: str, record: Trench, opening: Opening | None = None) -> Answer:
    """Send a code to the number on file, not back the way the message came: a forger never reads it."""
    if locked := _locked(case):
        return replace(locked, trenches=(record,) if opening is None else ())
    until = code_lapses(case.context.now, case.tables)
    given = {"trench": record.ref, "until": case.pen.time(until), "code": case.context.code}
    text = case.pen.say("allow-code" if opening is None else "open-code", **given)
    return Answer(
        outcome,
        case.pen.say(key, trench=record.ref),
        record.ref,
        (record,) if opening is None else (),
        (Alert(to=case.person.number, text=text, why="code", urgent=True),),
        code=case.context.code,
        code_until=until,
        opening=opening,
    )


def for_opening(case: Case) -> Answer:
    """What the text would open counts once its code has come back; until then all stays as it is."""
    ref = case.place.ref or case.site.name
    record = case.place.trench or case.blank(ref)
    opening = Opening(text=case.message.text, at=case.at, trench=case.place.ref)
    return ask(case, Unclear(why="a code is needed"), "open-sent", record, opening)


def wrong(case: Case) -> Answer:
    """A code that is wrong, old, or of another trench. The try counts, whichever code is sent next."""
    if locked := _locked(case):
        return locked
    before = case.context.thread
    tries = (before.wrong_codes if before else 0) + 1
    text = case.pen.say("allow-wrong-code", trench=case.record.ref)
    answer = Answer(Unclear(why="wrong or old code"), text, case.place.ref, wrong_codes=tries)
    if tries < case.tables.entry.figure.code_tries.value:
        return answer
    until = case.context.now + case.tables.entry.figure.code_lock.span
    return replace(
        answer,
        text=replies.fit([text, case.pen.say("codes-locked", until=case.pen.time(until))]),
        alerts=_locked_news(case),
        wrong_codes=0,
        locked_until=until,
    )


def _locked_news(case: Case) -> tuple[Alert, ...]:
    """Told to the office, the supervisors and the number itself: it may be nobody of ours who tries."""

    def news(pen: ReplyWriter) -> str:
        return pen.say("codes-locked-alert", trench=case.record.ref, name=case.person.name)

    text = replies.fit(list(dict.fromkeys(news(pen) for pen in (case.english, case.pen))))
    people = case.context.people.on_site(case.site.name)
    told = [person.number for person in people if person.role in ("office", "supervisor")]
    return tuple(Alert(to=number, text=text, why="codes", urgent=True) for number in dict.fromkeys(told))


def told_to_number(case: Case, answer: Answer) -> tuple[Alert, ...]:
    """What a supervisor's number opened, told to that number where the reply itself does not go there."""
    reading = case.heard.reading
    acted = "inspection" in reading.done or reading.code is not None or opens(case)
    if case.context.to_number or not (acted and answer.trenches and case.may("inspect")):
        return ()
    where = ", ".join(dict.fromkeys(trench.ref for trench in answer.trenches))
    text = case.pen.say("done-from-number", trench=where, words=case.message.text[:MOST_WORDS])
    return (Alert(to=case.person.number, text=replies.fit([text]), why="done"),)


def proved(case: Case, code: str) -> bool:
    """Whether this is the code that was sent last, in time, for this trench and none that is locked."""
    thread, named = case.context.thread, case.heard.reading.trench
    return bool(
        thread
        and thread.code
        and not _is_locked(case)
        and thread.code_trench == (named if thread.opening and named else thread.code_trench)
        and (thread.opening or thread.code_trench == case.record.ref)
        and thread.code_until
        and case.context.now <= thread.code_until
        and not _closed_since(case, thread)
        and hmac.compare_digest(thread.code.encode(), code.encode())
    )


def _closed_since(case: Case, thread: Thread) -> bool:
    """Whether danger or a stop has been told of its trench since a code was sent, to let people in: that code
    is void, whoever has inspected after."""
    trench = case.context.trenches.get(thread.code_trench or "")
    if trench is None or thread.opening or thread.code_until is None:
        return False
    sent = thread.code_until - case.tables.entry.figure.code_life.span
    later = (event.reading for event in trench.events if event.heard >= sent)
    return any(each.hazards or each.possible_hazard or each.purpose == "stop" for each in later)


def _is_locked(case: Case) -> bool:
    thread = case.context.thread
    return bool(thread and thread.codes_locked_until and case.context.now < thread.codes_locked_until)


def _locked(case: Case) -> Answer | None:
    thread = case.context.thread
    if not _is_locked(case) or thread is None or thread.codes_locked_until is None:
        return None
    text = case.pen.say("codes-locked", until=case.pen.time(thread.codes_locked_until))
    return Answer(Unclear(why="codes are locked"), text, case.place.ref)
