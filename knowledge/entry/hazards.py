"""What to do now, for each hazard reported."""

from collections.abc import Collection

from knowledge.outcome import Caution
from knowledge.reading import Hazard
from knowledge.sourced import Rulebook
from knowledge.tables.entry_rules import filled
from knowledge.tables.load import Tables
from knowledge.units import Amount


def hazard_sentences(kinds: Collection[Hazard], rulebook: Rulebook, tables: Tables) -> tuple[Caution, ...]:
    """What to do now, in the order to be read: emergency services, everyone out, then worst first.

    Empty where there is no hazard.
    """
    if not kinds:
        return ()
    rules = tables.hazards
    told = [(f"hazard.{kind}", rule) for kind, rule in rules.hazard.items() if kind in kinds]
    first = [row for row in told if row[1].before_all]
    rest = [row for row in told if not row[1].before_all]
    numbers: dict[str, Amount | str] = {"emergency": getattr(rules.emergency, rulebook)}
    return tuple(
        Caution(id=name, say=filled(rule.say, numbers), source=tables.source(rule, rulebook), numbers=numbers)
        for name, rule in (*first, ("hazard.out", rules.out), *rest)
    )
