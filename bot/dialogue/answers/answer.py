"""YES, NO, IGNORE, SEEN, ALL SAFE: what somebody answers to what the service asked or held back."""

from dataclasses import replace

from bot.dialogue import replies
from bot.dialogue.answers import report, since, size, spread
from bot.dialogue.answers.base import Answer, Case, not_your_part, nowhere
from bot.dialogue.answers.entry import standing
from bot.dialogue.answers.report import danger_at
from bot.dialogue.answers.unsure import as_told, open_text
from bot.dialogue.answers.waiting import listed_with, waiting
from bot.dialogue.replies import ReplyWriter
from bot.dialogue.which_trench import TrenchMeant
from bot.message import Proposal
from knowledge.outcome import Noted, Unclear
from knowledge.reading import Purpose, Reading
from knowledge.record.trench import Trench

PURPOSE: Purpose = "answer"


def answer(case: Case) -> Answer:
    """Act on the one word."""
    word = case.heard.reading.answer
    if word == "yes":
        return _yes(case)
    if word == "no":
        return _no(case)
    if word == "ignore":
        return _ignore(case)
    if word == "coming":
        return _coming(case)
    return _seen(case) if word == "seen" else _all_safe(case)


def _asked(case: Case) -> list[Proposal]:
    """The questions of ours that a YES may answer: of the trench named, else all; none that is too old."""
    thread = case.context.thread
    ref = case.heard.reading.trench
    within = case.tables.entry.figure.yes_within.span
    found = [
        proposal
        for proposal in (thread.proposals if thread else ())
        if case.at - proposal.at <= within and case.message.sent_at >= proposal.at
    ]
    return [one for one in found if one.trench == ref] if ref else found


def _yes(case: Case) -> Answer:
    danger = _possible(case)
    asked = _asked(case)
    if danger and not asked:
        return _danger(case)
    if not asked:
        return Answer(Unclear(why="nothing asked"), case.pen.say("yes-to-nothing"), case.place.ref)
    proposal = asked[0]
    trench = case.context.trenches.get(proposal.trench)
    if len(asked) == 1 and (trench is None or _turned(case, trench, proposal)):
        text = case.pen.say("yes-void", trench=proposal.trench)
        return Answer(Unclear(why="told otherwise since"), text, proposal.trench, proposals=())
    if len(asked) > 1 or (case.heard.reading.trench is None and _alarmed(case, proposal)):
        text = case.pen.say("yes-to-which", trenches=", ".join(sorted({one.trench for one in asked})))
        return Answer(Unclear(why="several asked"), text, case.place.ref)
    assert trench is not None
    if case.person.number in trench.now.apart:
        return _same_hole(case, proposal, trench)
    record = case.told(as_told(proposal, case), trench)
    facts = case.pen.facts(proposal.reading)
    text = replies.fit(
        [
            case.pen.say("noted", trench=record.ref, facts=", ".join(facts)),
            *replies.before_entry(case.pen, case.entry(record), allows=case.may("allow")),
        ]
    )
    return Answer(Noted(trench=record.ref, noted=tuple(facts)), text, record.ref, (record,), proposals=())


def _same_hole(case: Case, proposal: Proposal, trench: Trench) -> Answer:
    """It is one hole, and what the sender told of it counts from now on, like anybody else's."""
    reading = proposal.reading.model_copy(update={"answer": "yes", "trench": trench.ref})
    heard = case.heard.model_copy(update={"reading": reading})
    meant = replace(case, heard=heard, place=TrenchMeant(trench.ref, trench))
    told = size.answer(meant) if reading.purpose == "size" else report.answer(meant)
    return replace(told, proposals=())


def _turned(case: Case, trench: Trench, proposal: Proposal) -> bool:
    later = (event for event in trench.events if (event.came or 0) > proposal.came)
    return since.turned(case, trench, later, proposal.reading)


def _alarmed(case: Case, proposal: Proposal) -> bool:
    """Whether somebody else has told of danger, a stop or an undoing since we asked, where the sender hears
    of it: their YES may be the answer to that."""
    number = case.person.number
    later = (
        event.reading
        for trench in case.context.trenches.values()
        if number in trench.now.told or case.may("inspect")
        for event in trench.events
        if event.number != number and event.heard >= proposal.at
    )
    return any(
        reading.hazards or reading.possible_hazard or reading.undone or reading.purpose == "stop"
        for reading in later
    )


def _no(case: Case) -> Answer:
    """NO to what we asked; to nothing it answers somebody else, and may say that nobody goes in."""
    asked = _asked(case)
    if not asked and not _possible(case):
        return open_text(case)
    where = ", ".join(sorted({one.trench for one in asked}))
    text = case.pen.say("no-noted", trench=where) if asked else case.pen.say("yes-to-nothing")
    return Answer(Unclear(why="no"), text, case.place.ref, proposals=())


def _ignore(case: Case) -> Answer:
    """The sender's own open texts, of the trench named or of all, are held open no longer."""
    number, named = case.person.number, case.heard.reading.trench
    mine = [
        trench
        for ref, trench in case.context.trenches.items()
        if (named is None or ref == named) and any(one.number == number for one in trench.now.open_texts)
    ]
    if not mine:
        if danger := _possible(case):
            return standing(case, danger[0])  # what may be danger is not ignored
        return Answer(Unclear(why="nothing open"), case.pen.say("ignore-nothing"), case.place.ref)
    records = tuple(case.told(trench=trench) for trench in mine)
    where = ", ".join(trench.ref for trench in records)
    ref = records[0].ref if len(records) == 1 else None
    text = case.pen.say("ignored", trench=where)
    if ref is not None:  # it may have been a question
        text = replies.fit([text, *_before_entry(case, records[0])])
    return Answer(Noted(trench=ref), text, ref, records)


def _seen(case: Case) -> Answer:
    """A supervisor answers for what they were shown; what they were not shown yet is shown now."""
    if not case.may("inspect"):
        return not_your_part(case)
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    thread = case.context.thread
    unread = thread is None or (thread.listed_at is not None and case.message.sent_at < thread.listed_at)
    listed = set(thread.listed) if thread and not unread else set()
    shown = tuple(one.said.event for one in waiting(trench) if one.said.event in listed)
    if not shown and not waiting(trench) and trench.now.hazards:
        return _coming(case)
    if not shown:
        return show(case, trench)
    record = case.told(case.event(seen=shown), trench)
    left = waiting(record)
    parts = [case.pen.say("seen", trench=record.ref)]
    if left:
        return show(case, record, Answer(Noted(trench=record.ref), parts[0], record.ref, (record,)))
    text = replies.fit([*parts, *_before_entry(case, record)])
    return Answer(Noted(trench=record.ref), text, record.ref, (record,))


def _before_entry(case: Case, record: Trench) -> list[str]:
    return replies.before_entry(case.pen, case.entry(record), allows=case.may("allow"))


def _coming(case: Case) -> Answer:
    """Somebody answers an alarm: whoever raised it hears who comes, or has seen it. Nothing opens by it."""
    named = case.heard.reading.trench
    alarmed = [
        trench
        for ref, trench in case.context.trenches.items()
        if trench.now.hazards and (named is None or ref == named)
    ]
    if not alarmed:
        return Answer(Unclear(why="no alarm"), case.pen.say("coming-nothing"), case.place.ref)
    records = tuple(case.told(trench=trench) for trench in alarmed)
    where = ", ".join(spread.named(record) for record in records)
    key = "coming-news" if case.heard.reading.answer == "coming" else "seen-news"

    def news(pen: ReplyWriter) -> str:
        return pen.say(key, trench=where, name=case.person.name)

    raised = {each.said.event for trench in alarmed for each in trench.now.hazards}
    senders = [event.number for trench in alarmed for event in trench.events if event.id in raised]
    ref = records[0].ref if len(records) == 1 else None
    alerts = spread.news_to(case, senders, news)
    return Answer(Noted(trench=ref), case.pen.say("coming", trench=where), ref, records, alerts)


def show(case: Case, trench: Trench, before: Answer | None = None) -> Answer:
    """List the words that hold entry back, so that SEEN can answer for them."""
    found = waiting(trench)
    if not (found or before) and trench.now.possible:
        return standing(case, trench)
    if not found:
        return before or Answer(
            Noted(trench=trench.ref), case.pen.say("seen-nothing", trench=trench.ref), trench.ref
        )
    text, listed = listed_with(case.pen, trench, before.text if before else "")
    records = before.trenches if before else ()
    return Answer(Noted(trench=trench.ref), text, trench.ref, records, listed=listed)


def _possible(case: Case) -> list[Trench]:
    """The trenches at which something of this sender's may be danger."""
    number, named = case.person.number, case.heard.reading.trench
    return [
        trench
        for ref, trench in case.context.trenches.items()
        if (named is None or ref == named)
        and any(one.number == number or case.may("inspect") for one in trench.now.possible)
    ]


def _danger(case: Case) -> Answer:
    """YES to "everyone out?": it is danger."""
    return danger_at(case, _possible(case), Reading(purpose="report", hazards=("other",)))


def _all_safe(case: Case) -> Answer:
    found = _possible(case)
    if not found:
        return Answer(Unclear(why="nothing in doubt"), case.pen.say("safe-nothing"), case.place.ref)
    records = tuple(case.told(trench=trench) for trench in found)
    where = ", ".join(trench.ref for trench in records)
    ref = records[0].ref if len(records) == 1 else None
    key = "safe-not-enough" if any(record.now.possible for record in records) else "safe-noted"
    return Answer(Noted(trench=ref), case.pen.say(key, trench=where), ref, records)
