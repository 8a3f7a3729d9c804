"""Rules as data: which bite on the facts of a trench, and their sentences with the figures put in."""

from collections.abc import Mapping

from knowledge.outcome import Caution, Refusal
from knowledge.sourced import Condition, Rule, Rulebook, Sentence, filled
from knowledge.tables.load import Tables
from knowledge.tables.sizing_figures import SizingFact
from knowledge.units import Amount

# A fact is a measure, a word, or untold (None). Yes and no are words.
SizingValue = Amount | str | None
SizingValues = Mapping[SizingFact, SizingValue]


def applies(rule: Rule, facts: SizingValues, rulebook: Rulebook) -> bool:
    """Whether a rule applies. A comparison with a fact that nobody told does not hold: ask for it instead."""
    return rulebook in rule.rulebooks and all(_holds(c, facts) for c in rule.when)


def _holds(condition: Condition, facts: SizingValues) -> bool:
    fact = facts.get(condition.fact)  # type: ignore[call-overload]
    if condition.is_ in ("told", "untold"):
        return (fact is not None) is (condition.is_ == "told")
    if fact is None:
        return False
    if isinstance(fact, Amount):
        return _compares(fact.value, condition)
    assert isinstance(condition.value, tuple)
    return (fact in condition.value) is (condition.is_ == "one of")


def _compares(value: float, condition: Condition) -> bool:
    match condition.is_:
        case "at least":
            return value >= condition.si
        case "at most":
            return value <= condition.si
        case "more than":
            return value > condition.si
        case "less than":
            return value < condition.si
    raise ValueError(f"{condition.fact}: a measure cannot be {condition.is_!r}")


def refusals(facts: SizingValues, tables: Tables, rulebook: Rulebook) -> tuple[Refusal, ...]:
    """The refusals that follow from what was told."""
    found = ((name, rule) for name, rule in tables.rules.stops if applies(rule, facts, rulebook))
    return tuple(refusal(name, rule, _amounts(facts), tables, rulebook) for name, rule in found)


def cautions(facts: SizingValues, tables: Tables, rulebook: Rulebook) -> tuple[Caution, ...]:
    """What must be said, most dangerous first."""
    figures = _amounts(facts)
    bite = ((name, rule) for name, rule in tables.rules.cautions if applies(rule, facts, rulebook))
    return tuple(
        tables.fixed_cautions.get((name, rulebook)) or caution(name, rule, figures, tables, rulebook)
        for name, rule in bite
    )


def refusal(
    name: str, row: Sentence, figures: Mapping[str, Amount | str], tables: Tables, rulebook: Rulebook
) -> Refusal:
    """A refusal with its figures put in, lengths in metres."""
    numbers = _numbers(row, figures)
    return Refusal(
        rule=name,
        say=filled(row.say, numbers),
        source=tables.source(row, rulebook),
        instead=filled(row.instead, numbers),
        numbers=numbers,
    )


def caution(
    name: str, rule: Rule, figures: Mapping[str, Amount | str], tables: Tables, rulebook: Rulebook
) -> Caution:
    """A caution with its figures put in, lengths in metres."""
    numbers = _numbers(rule, figures)
    source = tables.source(rule, rulebook)
    return Caution(id=name, say=filled(rule.say, numbers), source=source, numbers=numbers)


def _numbers(row: Sentence, figures: Mapping[str, Amount | str]) -> dict[str, Amount | str]:
    """The figures that the blanks of a sentence want: its own, else those of the trench."""
    return {name: row.amounts[name] if name in row.amounts else figures[name] for name in row.blanks}


def _amounts(facts: SizingValues) -> dict[str, Amount | str]:
    return {name: fact for name, fact in facts.items() if fact is not None}
