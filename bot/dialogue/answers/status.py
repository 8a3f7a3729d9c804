"""What is open, and what stands in the way of each."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from knowledge.outcome import Entry, Told
from knowledge.reading import Purpose
from knowledge.record.trench import Trench

PURPOSE: Purpose = "status"
MOST_JUDGED = 2 * replies.MOST_LINES


def answer(case: Case) -> Answer:
    """Every open trench of the site, hazards first, in one reply."""
    if case.heard.reading.trench and case.place.trench:
        outcome = case.entry(case.place.trench)
        text = replies.entry(case.pen, outcome, allows=case.may("allow"))
        return Answer(outcome, text, case.place.ref)
    if case.heard.reading.trench:
        return nowhere(case)
    trenches = [case.context.trenches[ref] for ref in case.context.trenches]
    if not trenches:
        text = case.pen.say("status-none")
        return Answer(Told(about="status", lines=(text,)), text)
    # Danger first: the others are judged as far as a reply can show them, however many are open.
    trenches.sort(key=lambda trench: not trench.now.hazards and not trench.now.possible)
    shown = trenches[:MOST_JUDGED]
    judged = sorted(((t, case.entry(t)) for t in shown), key=lambda each: _rank(*each))
    lines = [
        case.pen.say("status", trench=trench.ref, state=_state(case, trench, outcome))
        for trench, outcome in judged
    ]
    if "inspection" in case.heard.reading.done:  # "all trenches inspected ok" is an inspection of none
        lines.insert(0, case.pen.say("name-each"))
    return Answer(Told(about="status", lines=tuple(lines)), replies.listed(case.pen, lines, len(trenches)))


def _rank(trench: Trench, outcome: Entry) -> tuple[bool, bool, str]:
    return not trench.now.hazards, outcome.entry == "may", trench.ref


def _state(case: Case, trench: Trench, outcome: Entry) -> str:
    pen = case.pen
    if trench.now.hazards:
        return pen.say(
            "state-hazard", hazards=", ".join(pen.catalog.term(h.kind) for h in trench.now.hazards)
        )
    if outcome.entry == "may" and outcome.until:
        until = pen.time(outcome.until)
        if outcome.allowed_by:
            return pen.say("state-allowed", name=outcome.allowed_by, until=until)
        return pen.say("state-may", until=until)
    facts = list(dict.fromkeys(m.fact for m in outcome.missing))
    more = " " + pen.say("status-more", count=str(len(facts) - 2)) if len(facts) > 2 else ""
    return pen.say("state-no", missing=", ".join(pen.catalog.term(f) for f in facts[:2]) + more)
