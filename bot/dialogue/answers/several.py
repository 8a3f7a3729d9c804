"""Several trenches inspected in one text: each is judged by itself. No purpose of its own."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.answers.waiting import listed_with, waiting
from knowledge.outcome import Noted, Unclear


def answer(case: Case) -> Answer:
    """Take it down for each trench named; one that is not on record is said, and nothing is taken for it."""
    reading, pen = case.heard.reading, case.pen
    refs = [ref for ref in (case.place.ref, *reading.also) if ref]
    records, lines, held = [], [], []
    for ref in refs:
        trench = case.context.trenches.get(ref)
        if trench is None:
            lines.append(pen.say("no-trench-named", trench=ref))
            continue
        alone = reading.model_copy(update={"trench": ref, "also": ()})
        record = case.told(case.event(alone), trench)
        records.append(record)
        facts = ", ".join(pen.facts(alone))
        lines.append(pen.say("noted", trench=ref, facts=facts))
        lines += replies.before_entry(pen, case.entry(record), allows=case.may("allow"))
        held += [record] if waiting(record) else []
    if not case.may("inspect"):
        lines.insert(0, pen.say("inspection-not-yours"))
    outcome = Noted(noted=tuple(lines)) if records else Unclear(why="no trench on record")
    text, listed = replies.fit(lines), list[str]()
    for record in held:
        text, shown = listed_with(pen, record, text)
        listed += shown
    return Answer(outcome, text, None, tuple(records), listed=tuple(listed) if held else None)
