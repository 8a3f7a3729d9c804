"""Words that hold entry back and that a supervisor can answer for."""

from collections.abc import Sequence

from knowledge.record.state import Quoted
from knowledge.record.trench import Trench


def waiting(trench: Trench) -> Sequence[Quoted]:
    """What a supervisor can answer for: texts that nobody understood, and a fitter's stops."""
    fitters = [one for one in trench.now.stopped if one.said.role == "fitter"]
    return [*trench.now.open_texts, *fitters]
