"""The layout searched backwards: how long a run so many units hold, at the spacing that sizing gives."""

from knowledge.outcome import Sized
from knowledge.reading import Details
from knowledge.sizing.size import size
from knowledge.sourced import Rulebook
from knowledge.tables.load import Tables
from knowledge.units import Metre

STEP = 0.1  # metres: as closely as a run is marked out on the ground (common practice, no source)
LONGEST = 100.0  # metres: no crew opens more at a time


def units_for(trench: Details, tables: Tables, rulebook: Rulebook, kit: str) -> int | None:
    """How many units the trench as described takes; None where it is not sized with its length."""
    outcome = size(trench, tables, rulebook, kit)
    return outcome.units if isinstance(outcome, Sized) else None


def holds_run(n: int, trench: Details, tables: Tables, rulebook: Rulebook, kit: str) -> Metre | None:
    """The longest run of this trench, in whole steps, that `n` units hold; None where they hold none.

    Services lie at places of the whole trench, not of a run: they are left out, and the run is sized anew
    before it is dug.
    """

    def enough(steps: int) -> bool:
        run = trench.model_copy(update={"length_m": round(steps * STEP, 3), "services": ()})
        units = units_for(run, tables, rulebook, kit)
        return units is not None and units <= n

    least, most = 0, round(LONGEST / STEP)
    while least < most:
        middle = (least + most + 1) // 2
        if enough(middle):
            least = middle
        else:
            most = middle - 1
    return round(least * STEP, 3) if least else None
