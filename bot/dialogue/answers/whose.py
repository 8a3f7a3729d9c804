"""Two crews may use one name: before one counts for the other it is asked. No purpose of its own."""

from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.answers.unsure import proposed
from bot.message import Proposal
from knowledge.outcome import Ask
from knowledge.reading import NEEDED
from knowledge.record.trench import Trench

WORKING = ("size", "report", "moved", "parked", "strip", "take", "handover", "close")


def is_asked(case: Case) -> bool:
    """Whether the sender sizes a trench that others have sized under this name and that they never texted
    about; or works on at it without having said whether it is the same."""
    trench, reading = case.place.trench, case.heard.reading
    if trench is None or reading.hazards or reading.purpose not in WORKING or reading.answer:
        return False
    if case.person.number in trench.now.apart:
        return True
    sizes = reading.purpose == "size" and all(getattr(reading, name) is not None for name in NEEDED)
    known = case.person.number in trench.now.told or case.may("inspect") or not case.may("tell")
    return sizes and trench.now.plan is not None and not known


def answer(case: Case) -> Answer:
    """Hold what was told, and ask. What is dangerous in it counts at once."""
    record = case.told(case.event(other_crew=True))
    first = _begun(record, case)
    proposal = proposed(case, record, case.heard.reading)
    if held := _sizing_held(case):
        proposal = proposal.model_copy(update={"reading": held.reading, "words": held.words})
    text = case.pen.say(
        "same-hole",
        trench=record.ref,
        name=first[0],
        since=first[1],
        next=case.context.next_ref,
    )
    return Answer(Ask(questions=("trench",)), text, record.ref, (record,), proposals=(proposal,))


def _sizing_held(case: Case) -> Proposal | None:
    """The sizing that the question began with: what is told meanwhile does not take its place."""
    thread = case.context.thread
    held = [
        one
        for one in (thread.proposals if thread else ())
        if one.trench == case.place.ref and one.reading.purpose == "size"
    ]
    if not held or case.heard.reading.purpose == "size":
        return None
    return held[0]


def _begun(record: Trench, case: Case) -> tuple[str, str]:
    """Whose it is, and since when it is open."""
    said = record.now.plan_said
    first = record.events[0]
    name = said.by if said else first.by
    return name, case.shift.clock(first.at, case.context.now)
