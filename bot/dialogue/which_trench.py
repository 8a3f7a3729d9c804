"""Which trench a message speaks of."""

from dataclasses import dataclass

from bot.dialogue.context import Context
from knowledge.reading import NEEDED, Reading
from knowledge.record.trench import Trench


@dataclass(frozen=True)
class TrenchMeant:
    """A reference and its record (None: none yet). Without `ref`, `candidates` are asked about."""

    ref: str | None
    trench: Trench | None = None
    candidates: tuple[str, ...] = ()


def find(reading: Reading, context: Context) -> TrenchMeant:
    """The trench that the message names; else the one last spoken of; else the only one open.

    A sizing that tells a trench whole, with no reference, after the last one was sized, is a new trench: the
    reply names it, so that a mix-up shows. Where several are open and none was spoken of, or both were, none
    is guessed.
    """
    trenches = context.trenches
    if "trench" in reading.questions:  # several, or a name that is no name here: never the last spoken of
        return TrenchMeant(None, None, tuple(trenches))
    if reading.of_both and len(trenches) > 1 and not reading.trench:
        return TrenchMeant(None, None, tuple(trenches))
    if reading.trench:
        ref = _known_as(reading, context)
        return TrenchMeant(ref, trenches.get(ref))
    thread = context.fresh
    spoken = thread.trench if thread and thread.trench in trenches else None
    if reading.purpose == "size":
        whole = all(getattr(reading, name) is not None for name in NEEDED)
        if spoken is None or (whole and trenches[spoken].plan is not None):
            return TrenchMeant(context.next_ref)
        return TrenchMeant(spoken, trenches[spoken])
    if spoken is None and len(trenches) == 1:
        spoken = next(iter(trenches))
    if spoken is not None:
        return TrenchMeant(spoken, trenches[spoken])
    return TrenchMeant(None, None, tuple(trenches))


def _known_as(reading: Reading, context: Context) -> str:
    """The name by which a trench goes on, of one that was given another. A sizing that tells a trench whole
    begins a new one under the old name."""
    ref = first = reading.trench or ""
    anew = reading.purpose == "size" and all(getattr(reading, name) is not None for name in NEEDED)
    seen = {ref}
    while not anew and ref not in context.trenches and ref in context.closed:
        closed = context.closed[ref]
        new = next((e.reading.same_as for e in reversed(closed.events) if e.reading.purpose == "close"), None)
        if new is None or new in seen:
            return first
        ref = new
        seen.add(ref)
    return ref if ref in context.trenches else first
