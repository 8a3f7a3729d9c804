"""Whether an answer to a question of ours still counts: what has come in of the trench since we asked.

Whoever answers may not know what others have told meanwhile, and may mean it of what they have read last.
"""

from collections.abc import Iterable

from bot.dialogue.answers.base import Case
from knowledge.reading import LOOKING, Done, Reading, details_of
from knowledge.record.state import TrenchState
from knowledge.record.trench import Event, Trench

CALM = frozenset(("report", "entry", "answer", "note", *LOOKING))
MEASURED = frozenset(("depth_m", "spoil_m", "water", "ends"))
TAKEN_OUT: frozenset[Done] = frozenset(("units out", "backfill"))


def turned(case: Case, trench: Trench, later: Iterable[Event], offered: Reading) -> bool:
    """Whether any of the `later` events may bear on what is offered: it tells of the same fact, of danger, of
    what is undone or moved, of a figure that is another now, or was not understood."""
    later = tuple(later)
    ids = {event.id for event in later}
    facts = case.facts_told(offered)
    danger = any(each.said.event in ids for each in trench.now.hazards)  # of a gauge that fell, too
    another = any(event.id in ids and _another_figure(trench, at) for at, event in enumerate(trench.events))
    return danger or another or any(not _beside(case, event, facts) for event in later)


def _another_figure(trench: Trench, at: int) -> bool:
    """Whether an event changed how deep it is dug, or how far the heap lies."""
    before, after = trench.states[at - 1] if at else TrenchState(), trench.states[at]
    pairs = ((before.dug_m, after.dug_m), (before.spoil_m, after.spoil_m))
    return any(old is not None and old != new for old, new in pairs)


def calm(reading: Reading) -> bool:
    """Whether a text is understood, and tells of nothing that stands against entry."""
    against = reading.hazards or reading.possible_hazard or reading.undone or reading.not_so or reading.not_at
    moved = reading.moved or reading.run_m or not TAKEN_OUT.isdisjoint(reading.done)
    doubted = reading.questions or reading.verdict == "not safe" or not reading.whole
    return reading.purpose in CALM and not (against or moved or doubted)


def _beside(case: Case, event: Event, facts: set[str]) -> bool:
    """Whether an event tells of something else, and nothing against entry."""
    reading = event.reading
    if event.open_text or event.withdraws or event.other_crew or not calm(reading):
        return False
    other = details_of(reading).model_dump(exclude_defaults=True).keys() - MEASURED
    return not other and facts.isdisjoint(case.facts_told(reading))
