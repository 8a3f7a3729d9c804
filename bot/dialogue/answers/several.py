"""Several trenches inspected in one text: each is judged by itself. No purpose of its own."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.answers.waiting import waiting
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
        held += [one.said.event for one in waiting(record)]
    if not case.may("inspect"):
        lines.insert(0, pen.say("inspection-not-yours"))
    outcome = Noted(noted=tuple(lines)) if records else Unclear(why="no trench on record")
    listed = tuple(held) if held else None
    return Answer(outcome, replies.fit(lines), None, tuple(records), listed=listed)
