"""What to do now, for each hazard reported."""

from collections.abc import Collection

from knowledge.outcome import Caution
from knowledge.reading import Hazard
from knowledge.sourced import Rulebook
from knowledge.tables.entry_rules import HazardRule, filled
from knowledge.tables.load import Tables
from knowledge.units import Amount

NUMBERS = ("emergency", "gas_line", "power_line")  # blanks that name a number to ring


def hazard_sentences(kinds: Collection[Hazard], rulebook: Rulebook, tables: Tables) -> tuple[Caution, ...]:
    """What to do now, in the order to be read: everyone out, one act, the number to ring, what else bites,
    and last that nobody goes in.

    Empty where there is no hazard.
    """
    if not kinds:
        return ()
    rules = tables.hazards
    first, *rest = [(f"hazard.{kind}", rule) for kind, rule in rules.hazard.items() if kind in kinds]
    named = any(blank in NUMBERS for _, rule in (first, *rest) for blank in rule.blanks)
    ring: list[tuple[str, HazardRule]] = [] if named else [("hazard.ring", rules.ring)]
    rows = (("hazard.out", rules.out), first, *ring, *rest, ("hazard.stay-out", rules.stay_out))
    numbers: dict[str, Amount | str] = {
        "emergency": getattr(rules.emergency, rulebook),
        "gas_line": getattr(rules.gas_line, rulebook),
        "power_line": getattr(rules.power_line, rulebook),
    }
    return tuple(
        Caution(id=name, say=filled(rule.say, numbers), source=tables.source(rule, rulebook), numbers=numbers)
        for name, rule in rows
    )
