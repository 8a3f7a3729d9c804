"""The meanings of a word or phrase: a set of names, with those that have a subject parted out once."""

from typing import Self

from bot.language.schema import Statement

PARTING = frozenset(("count", "reference", "deny", "unit_t"))
TURNING = frozenset(
    ("deny", "suppose", "may", "ask", "open", "plan", "order", "none", "none_after", "purpose.entry")
)
GROUPS = ("kind", "taken", "mixed", "state", "service", "ordinal")


class StatementTable:
    """The facts of a vocabulary by what is said in them."""

    def __init__(self, facts: tuple[Statement, ...]) -> None:
        self.things = frozenset(name for fact in facts for name in fact.thing)
        self.states = frozenset(name for fact in facts for name in fact.state)
        done = [tuple(said.what for said in fact.means if said.group == "done") for fact in facts]
        self._reports = [
            (frozenset(fact.thing or fact.state), what) for fact, what in zip(facts, done, strict=True)
        ]
        self._by: dict[str, dict[int, Statement]] = {}
        for place, fact in enumerate(facts):
            for name in fact.state or fact.thing:
                self._by.setdefault(name, {})[place] = fact

    def of(self, names: tuple[str, ...]) -> tuple[Statement, ...]:
        """The facts that these names may make, in the order of the vocabulary."""
        found = {place: fact for name in names for place, fact in self._by.get(name, {}).items()}
        return tuple(found[place] for place in sorted(found))

    def reported(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """What can be reported done of what has these names: "ladder" of a ladder."""
        return tuple(what for about, done in self._reports if not about.isdisjoint(names) for what in done)


class Meanings(frozenset[str]):
    """Names such as "unit", "label.depth.after", "kind.clay". Compiled once with the vocabulary.

    `label` is (dimension, place) of a length's label; `kind`, `taken`, `mixed`, `state`, `service` and
    `ordinal` the second part of such a name; `purposes` what is asked of the service.
    """

    label: tuple[str, str] | None
    kind: str | None
    taken: str | None
    mixed: str | None
    state: str | None
    service: str | None
    ordinal: str | None
    purposes: tuple[str, ...]
    asides: tuple[str, ...]  # "aside", or the subjects beside which it changes nothing
    ground: str | None  # the kind of ground named, in whatever word
    facts: tuple[Statement, ...]  # that it may make as a state, or as a thing by itself
    reported: tuple[str, ...]  # what can be reported done of it
    thing: bool  # whether something can be said of it
    said: bool  # whether it is said of things
    turns: bool  # whether it denies, supposes, plans or asks what stands about it
    parts: bool  # whether it parts the figures before it from those after

    def __new__(cls, names: tuple[str, ...] = (), facts: StatementTable | None = None) -> Self:
        """Parts the names, which stand in the order of the vocabulary."""
        made = super().__new__(cls, names)
        made.facts = facts.of(names) if facts else ()
        made.reported = facts.reported(names) if facts else ()
        made.thing = facts is not None and not facts.things.isdisjoint(names)
        made.said = facts is not None and not facts.states.isdisjoint(names)
        for group in GROUPS:
            setattr(made, group, _second(names, group))
        label = _second(names, "label")
        made.label = None if label is None else (label.split(".")[0], label.split(".")[1])
        made.asides = tuple(name.removeprefix("aside.") for name in names if name.startswith("aside"))
        made.purposes = tuple(name[8:] for name in names if name.startswith("purpose."))
        made.ground = made.kind or made.taken
        made.turns = not TURNING.isdisjoint(names)
        made.parts = bool(made.ground or made.state or made.service) or not PARTING.isdisjoint(names)
        return made


def _second(names: tuple[str, ...], group: str) -> str | None:
    start = group + "."
    return next((name[len(start) :] for name in names if name.startswith(start)), None)


NONE = Meanings()
