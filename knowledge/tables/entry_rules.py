"""The rules of entry as data: `entry.toml` and `hazards.toml`, validated row by row.

Which facts must be on record, in which order they are told (worst first), how fresh they must be, who may say
what, and what to do at once for each hazard.
"""

from collections.abc import Mapping
from datetime import timedelta
from functools import cached_property
from typing import Literal, get_args

from pydantic import field_validator, model_validator

from knowledge.outcome import EntryFact
from knowledge.reading import Done, Hazard, SoilKind, What
from knowledge.sourced import DataRow, Figure, Measured, Rulebook, Sentence, SentenceFigure, Sourced
from knowledge.units import Amount, Metre, show

Role = Literal["fitter", "supervisor", "office"]
Act = Literal["look", "tell", "inspect", "allow", "close"]
WorkChange = Literal["plan", "dig", "units", "pause", "run", "parked"]  # besides every hazard

# The sentences that the code asks a fact's row for. A fact that is not here is judged by its row alone: it
# was told, by something done, and is fresh.
SENTENCES: dict[EntryFact, frozenset[str]] = {
    "open hazard": frozenset({"open", "possible"}),
    "stopped": frozenset({"stopped"}),
    "open text": frozenset({"open"}),
    "plan changed": frozenset(
        {
            "depth",
            "width",
            "length",
            "soil",
            "water",
            "face",
            "load",
            "slab",
            "overhang",
            "services",
            "refused",
        }
    ),
    "sizing": frozenset({"untold", "closed"}),
    "units": frozenset({"untold", "short", "length", "tagged"}),
    "pressure": frozenset({"untold", "some", "bad", "stale"}),
    "gap below": frozenset({"untold", "bad"}),
    "water": frozenset({"untold", "bad", "stale"}),
    "air test": frozenset({"untold", "stale"}),
    "inspection": frozenset({"untold", "stale", "hazard", "plan", "dig", "units", "pause", "run", "parked"}),
    "services": frozenset({"untold", "unsupported"}),
    "ends": frozenset({"untold", "bad"}),
    "spoil": frozenset({"untold", "bad", "stale"}),
    "table on site": frozenset({"untold"}),
    "surface propped": frozenset({"untold", "stale"}),
}
# What the code asks for by name: things done, and what of the record they tell.
DONE_BY_NAME = (
    "units set",
    "units out",
    "inspection",
    "ends battered",
    "ends supported",
    "spoil back",
    "backfill",
)
TOLD_BY_NAME = (
    "ends",
    "spoil",
    "services located",
    "services supported",
    "air test",
    "backfill",
    "units out",
    "table on site",
    "surface propped",
)
WITH_LIMIT: frozenset[EntryFact] = frozenset({"gap below", "spoil"})
HAZARDS_BY_NAME = ("pressure loss",)  # what a gauge that fell shows
NOISE = 1e-6  # metres: what a conversion between units may leave over


def filled(sentence: str, numbers: Mapping[str, Amount | str]) -> str:
    """The sentence with its blanks filled, lengths in metres."""
    return sentence.format_map({k: show(v) if isinstance(v, Amount) else v for k, v in numbers.items()})


class Duration(Measured):
    """Hours or minutes."""

    unit: Literal["h", "min"]

    @cached_property
    def span(self) -> timedelta:
        return timedelta(**{{"h": "hours", "min": "minutes"}[self.unit]: self.value})


class SourcedDuration(Duration, Sourced):
    """Hours or minutes, and where they come from."""


class RoleRule(Sourced):
    """What somebody of this role may do by text. A hazard is taken from anybody."""

    may: tuple[Act, ...]


class FactRule(Sourced):
    """One fact of entry: at which depth it is asked for, its limit, how long it stays fresh, what is said.

    It is asked for at `from_depth` or beyond `deeper_than`; with neither, always. `fresh` "shift": told in
    this shift; "told": until something says otherwise. `lasts` is a further bound.
    """

    fact: EntryFact
    rulebooks: tuple[Rulebook, ...] = ("uk", "us")
    from_depth: SentenceFigure | None = None
    deeper_than: SentenceFigure | None = None
    limit: SentenceFigure | None = None
    fresh: Literal["shift", "told"] = "told"
    lasts: Duration | None = None
    say: dict[str, str]

    @model_validator(mode="after")
    def _says_all(self) -> "FactRule":
        stales = self.fresh == "shift" or self.lasts is not None
        wanted = SENTENCES.get(self.fact, {"untold", "stale"} if stales else {"untold"})
        if wanted != self.say.keys():
            raise ValueError(f"say must hold exactly {', '.join(sorted(wanted))}")
        if digit := next((s for s in self.say.values() if any(c.isdigit() for c in s)), None):
            raise ValueError(f"a sentence holds a digit, use a blank: {digit}")
        if (self.limit is None) == (self.fact in WITH_LIMIT):
            raise ValueError("limit belongs to, and only to, " + ", ".join(sorted(WITH_LIMIT)))
        return self

    def asked_at(self, depth: Metre | None) -> bool:
        """Whether a trench of this depth needs the fact; an unknown depth does."""
        if depth is None:
            return True
        if self.from_depth and depth < self.from_depth.si - NOISE:
            return False
        return self.deeper_than is None or depth > self.deeper_than.si + NOISE


class AirLimit(Sourced):
    """Between what and what a measured part of the air must lie, both included; its unit is in its name."""

    low: float = 0.0
    high: float

    @model_validator(mode="after")
    def _can_be_met(self) -> "AirLimit":
        if not 0.0 <= self.low <= self.high:
            raise ValueError("low is above high, or below nought")
        return self

    def holds(self, value: float) -> bool:
        """Whether a measured value lies inside."""
        return self.low <= value <= self.high


class AirLimits(DataRow):
    """What may be in the air that people breathe all shift, by the names of `knowledge.reading.Air`."""

    oxygen_pct: AirLimit
    lel_pct: AirLimit
    co_ppm: AirLimit
    h2s_ppm: AirLimit


class AirRule(Sourced):
    """What makes the air suspect at any depth, and what a test of it may show, by rulebook."""

    soils: tuple[SoilKind, ...]
    services: tuple[What, ...]
    limits: dict[Rulebook, AirLimits]


class EntryFigures(DataRow):
    """Single figures of the record and of entry."""

    gauge_error: Figure  # of any one reading
    working_share: Figure  # of what a unit was set to: what the ground may add or take
    gauge_tolerance: Figure  # a reading is printed in whole psi or bar
    tape_tolerance: Figure  # a dig deeper than the plan by more than this voids it
    ladder_above: Figure  # a ladder told to stand less far above the edge is none yet
    ends_slope: Figure  # from the level: ends told to be steeper are not battered
    clock_skew: SourcedDuration  # how far ahead of us a sender's clock may run
    sent_within: SourcedDuration  # a text that took longer is told so
    leave_sleeps: SourcedDuration  # an allowance outlives an open text of at most so long
    all_safe_below: Figure  # who said what may be danger lifts it where it was less dangerous than this
    yes_within: SourcedDuration  # a YES answers a question no older than this
    spoken_of: SourcedDuration  # a text that names no trench bears on those its sender spoke of so lately
    said_back: SourcedDuration  # a time said is of the last hours, else it is a plan
    wrong_hole: SourcedDuration  # how old a text may be that was of another trench
    guard: SourcedDuration  # between two looks at the fence and lights of a parked trench
    answer_alarm: SourcedDuration  # nobody has answered an alarm: the next is told
    pause: SourcedDuration  # silence that counts as a break in the work
    code_life: SourcedDuration  # how long a code to allow entry may take to come back
    open_at_most: Figure  # trenches that one sender has begun and left open
    code_tries: Figure  # wrong codes of one sender before none counts for a while
    code_lock: SourcedDuration  # that while
    report_within: SourcedDuration  # the inspection report is handed over
    keep_report: Figure


class WatchRule(Sourced):
    """When a reminder goes out, to which roles, and what it says."""

    after: SourcedDuration
    to: tuple[Role, ...]
    say: str


class EntryRules(DataRow):
    """`entry.toml`. The order of `fact` is the order in which what is missing is told."""

    roles: dict[Role, RoleRule]
    figure: EntryFigures
    inspect_after: tuple[WorkChange, ...]
    air: AirRule
    done: dict[Done, str]  # what a text can tell is done, and what of the record it tells
    fact: dict[str, FactRule]
    caution: dict[str, Sentence]  # said with every `may`
    doubted: Sentence  # with a `may` after words that were heard as danger and said to be safe
    watch: dict[
        Literal["inspection", "allowance", "gauge", "open", "guard", "note", "alarm", "alarm office"],
        WatchRule,
    ]

    @field_validator("done")
    @classmethod
    def _asked_by_name(cls, done: dict[Done, str]) -> dict[Done, str]:
        if missing := {*get_args(Done), *DONE_BY_NAME} - done.keys():
            raise ValueError(f"{min(missing)!r} is asked for by name, and not there")
        if missing := set(TOLD_BY_NAME) - set(done.values()):
            raise ValueError(f"nothing tells {min(missing)!r}, which is asked for by name")
        return done

    @model_validator(mode="after")
    def _whole(self) -> "EntryRules":
        for name, rule in self.fact.items():
            if rule.fact not in SENTENCES and rule.fact not in self.done.values():
                raise ValueError(
                    f"fact {name}: no code judges {rule.fact!r}, and nothing under done tells it"
                )
        if missing := SENTENCES.keys() - {rule.fact for rule in self.fact.values()}:
            raise ValueError(f"fact: no row for {min(missing)!r}, which the code judges")
        for rulebook in get_args(Rulebook):
            facts = [rule.fact for _, rule in self.facts(rulebook)]
            if sorted(facts) != sorted(get_args(EntryFact)):
                raise ValueError(f"rulebook {rulebook} must have each fact exactly once")
        if missing := set(get_args(Rulebook)) - self.air.limits.keys():
            raise ValueError(f"air.limits: no limits for rulebook {', '.join(sorted(missing))}")
        if missing := set(get_args(Role)) - self.roles.keys():
            raise ValueError(f"no rule for role {', '.join(sorted(missing))}")
        return self

    def facts(self, rulebook: Rulebook) -> tuple[tuple[str, FactRule], ...]:
        """The rules of one rulebook with their ids, worst first."""
        return tuple((name, rule) for name, rule in self.fact.items() if rulebook in rule.rulebooks)

    def may(self, role: Role, act: Act) -> bool:
        """Whether somebody of this role may do that."""
        return act in self.roles[role].may


class HazardRule(Sentence):
    """What to do now, and which facts must be told anew after it."""

    again: tuple[EntryFact, ...] = ()
    air: bool = False  # the air is suspect from now on
    site: bool = False  # told without a trench it is of them all


class NumberToRing(Sourced):
    """A number to ring in an emergency, by rulebook."""

    uk: str
    us: str


class HazardRules(DataRow):
    """`hazards.toml`: worst first."""

    emergency: NumberToRing
    gas_line: NumberToRing
    power_line: NumberToRing
    out: HazardRule
    stay_out: HazardRule
    ring: HazardRule
    hazard: dict[Hazard, HazardRule]

    @model_validator(mode="after")
    def _whole(self) -> "HazardRules":
        if missing := {*get_args(Hazard), *HAZARDS_BY_NAME} - self.hazard.keys():
            raise ValueError(f"no rule for hazard {', '.join(sorted(missing))}")
        return self
