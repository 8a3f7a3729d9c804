"""What the data files of the sizing core hold: ground, pressures, practice, rules, rulebooks."""

from functools import cached_property
from itertools import pairwise
from typing import Literal, get_args

from pydantic import Field, field_validator, model_validator

from knowledge.names import GROUNDS
from knowledge.outcome import GroundName
from knowledge.reading import BesideWhat, SoilKind, SoilState, SoilType, What
from knowledge.sourced import DataRow, Figure, Rule, Rulebook, Sentence, Sourced
from knowledge.tables.kit import Wall
from knowledge.units import KiloPascal

# Facts that the conditions of rules.toml may name: what the message says, and what sizing has found.
SizingFact = Literal[
    "depth",
    "width",
    "length",
    "soil",
    "soil_type",
    "stands",
    "face",
    "water",
    "ends",
    "spoil",
    "spoil_short",
    "spoil_back",
    "plant",
    "plant_clear",
    "plant_t",
    "traffic",
    "traffic_m",
    "pit",
    "squat",
    "junction",
    "slab",
    "overhang",
    "surcharge",
    "disturbed",
    "fissured",
    "dipping",
    "services",
    "services_unplaced",
    "type_told",
    "unit_mass",
    "boards",
    "table",
    "governed_by",
    "own_spacing",
    "survives",
    "end_survives",
    "end_load",
    "end_slope",
    "rail_top",
    "clear",
    "watched",
]


BiteLimits = Literal["usual", "short"]


class Strength(Sourced):
    """Undrained strength by the two scales of words, kPa: the lower bound of the band."""

    uk: KiloPascal = Field(ge=0)
    us: KiloPascal = Field(ge=0)

    def by(self, rulebook: Rulebook) -> KiloPascal:
        """On the scale that the rulebook's users write in."""
        return self.uk if rulebook == "uk" else self.us


class GroundRow(DataRow):
    """One described ground, cautiously: weight from the top of its band, strength from the bottom."""

    kind: SoilKind | None = None
    state: SoilState | None = None
    type: SoilType | None = None  # its type by nature; None: by strength
    bites: BiteLimits
    weight: Figure
    strength: Strength | None = None
    friction: Figure
    stands: Literal["computed", "as reported", "never"]
    boards: bool = False

    @model_validator(mode="after")
    def _whole(self) -> "GroundRow":
        if self.kind is None and self.type is None:
            raise ValueError("a ground needs a kind or a type")
        if self.stands == "computed" and self.strength is None:
            raise ValueError("standing height cannot be computed without a strength")
        if self.type is None and self.strength is None:
            raise ValueError("a ground without a strength needs a type")
        return self

    @property
    def wall(self) -> Wall:
        """How the ground bears behind a rail and arches between rails."""
        return "granular" if self.strength is None else "cohesive"

    @cached_property
    def name(self) -> GroundName:
        typed = self.type if self.kind is None else None
        return GroundName(kind=self.kind, state=self.state, type=typed)


class Soils(DataRow):
    """`soils.toml`: grounds weakest first, then the weakest credible ground of each type."""

    ground: tuple[GroundRow, ...]
    by_type: dict[SoilType, GroundRow]
    type_a_from: Figure  # unconfined compressive strength, this or more
    type_b_above: Figure  # more than this

    @field_validator("ground")
    @classmethod
    def _every_name(cls, ground: tuple[GroundRow, ...]) -> tuple[GroundRow, ...]:
        """A name that messages are read with must be one that can be sized."""
        rows = {(row.kind, row.state) for row in ground}
        for kind, state in GROUNDS:
            if (kind, state) not in rows:
                name = f"{state} {kind}" if state else kind
                raise ValueError(f"no row for {name!r}, which messages are read with")
        return ground

    @model_validator(mode="after")
    def _weakest_first(self) -> "Soils":
        if self.by_type.keys() != {"A", "B", "C"}:
            raise ValueError("by_type must hold A, B and C")
        if len(self.rows) < len(self.ground):
            raise ValueError("one ground twice")
        return self

    @cached_property
    def rows(self) -> dict[tuple[SoilKind | None, SoilState | None], GroundRow]:
        return {(row.kind, row.state): row for row in self.ground}

    @cached_property
    def rank(self) -> dict[GroundName, int]:
        """Place in the order of strength, weakest 0."""
        return {row.name: i for i, row in enumerate(self.ground)}

    @cached_property
    def stated(self) -> frozenset[SoilKind | None]:
        """Kinds that need a state."""
        return frozenset(row.kind for row in self.ground if row.state)


class Pressures(DataRow):
    """`pressures.toml`: envelopes, surcharge, standing height, base, column."""

    fluid: dict[SoilType, Figure]  # equivalent fluid weight
    fluid_surcharge: Figure
    sand_factor: Figure
    stiff_factor: Figure
    stiff_factor_disturbed: Figure
    stiff_up_to: Figure  # stability number
    soft_m: Figure
    soft_k_least: Figure
    fluid_least: Figure  # minimum equivalent fluid, per metre of depth
    surcharge_least: Figure  # at the surface beside a street
    heap: Figure  # load under a spoil heap
    heap_width: Figure  # the least base of it
    lane: Figure  # live traffic
    lane_width: Figure
    lane_untold: Figure  # how near it is taken where nobody told, and the nearest that is answered
    plant: tuple["PlantRow", ...] = Field(min_length=1)
    crack_factor: Figure  # standing height in clay with an open crack
    stand_factor: Figure  # factor of safety on it
    base_factor: Figure
    bearing_n_c: Figure  # surface footing
    bearing_shape: Figure
    bearing_factor: Figure  # of safety against the pump
    load_factor: Figure  # of safety against the load that a strut carries
    stage_factor: Figure  # the same while the dig stops for a level
    perry: Figure  # imperfection per slenderness
    base_n_c: tuple["BaseRow", ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _rising(self) -> "Pressures":
        if self.fluid.keys() != {"A", "B", "C"}:
            raise ValueError("fluid must hold A, B and C")
        ratios = [row.ratio for row in self.base_n_c]
        if ratios != sorted(ratios) or ratios[0] != 0:
            raise ValueError("base_n_c must rise from ratio 0")
        for a, b in pairwise(self.plant):
            if b.up_to.si <= a.up_to.si or b.load.si < a.load.si:
                raise ValueError("plant must rise in weight and load")
        return self


class PlantRow(DataRow):
    """What a machine no heavier than `up_to` presses with, and over what width."""

    up_to: Figure
    load: Figure
    width: Figure


class BaseRow(DataRow):
    """Bearing factor against base heave at one depth over width, for a long trench and a square one."""

    ratio: float
    strip: float
    square: float


class Stages(DataRow):
    """How high a face may be left open while the next level is set, and under the lowest."""

    first: Figure
    later: Figure
    gap: Figure  # strut axis (or rail foot, `gap_from`) above the bottom
    gap_from: Literal["strut", "rail"] = "strut"


class RulebookTable(DataRow):
    """`rulebook_uk.toml`, `rulebook_us.toml`: what one rulebook sets for spacing, levels and stages."""

    kit: str  # used unless another is named
    stages: dict[BiteLimits, Stages]
    one_level_to: Figure | None = None  # usually one level to here
    first_level: Figure  # the top strut no deeper than this
    apart: Figure | None = None  # levels no further apart
    spacing: dict[SoilType, tuple["SpacingRow", ...]]
    end: Figure  # a unit this near to an end that is neither battered nor supported
    least_group: Figure
    fluid_least: bool  # whether the minimum equivalent fluid applies
    approved_from: Figure | None = None  # from here on the kit must hold tabulated data or an approval
    depth: Figure | None = None  # deeper needs a registered engineer
    width: Figure | None = None  # wider is no trench
    spoil: Figure  # foot of the heap from the edge, in sizing as in entry


class SpacingRow(DataRow):
    """Greatest horizontal spacing for a trench no deeper than this."""

    depth: Figure
    spacing: Figure


class BesideRow(Sourced):
    """How near something beside the trench may be: `firm` or `other` times the depth, never under `least_m`.

    `underside`: only what of the depth lies below its told underside counts. `caution`: out to so many times
    that, a sentence is said.
    """

    firm: float = Field(gt=0)
    other: float = Field(gt=0)
    least_m: float = Field(ge=0)
    caution: float = Field(ge=1)
    underside: bool = False
    unless_held: bool = False

    @model_validator(mode="after")
    def _worse_is_further(self) -> "BesideRow":
        if self.other < self.firm:
            raise ValueError("other ground cannot allow it nearer than firm ground")
        return self


class Practice(DataRow):
    """`practice.toml`: facts of the trade, and figures the company's engineer may change."""

    working_room: Figure
    setting_tolerance: Figure
    spacing_least: Figure
    spacing_boarded: Figure
    levels_most: Figure
    levels_within: Figure
    spacing_step: Figure
    arching: dict[Wall, Figure]
    pressure_least: Figure
    pressure_most: Figure
    pressure_most_boarded: Figure
    gauge_error: Figure
    gauge_drift: Figure
    preload_share: Figure
    granular_bearing: Figure
    run: Figure
    clearance: Figure
    service_width: dict[What, Figure]
    pit_length: Figure
    end_slope: dict[SoilType, Figure]  # across to one up, of a battered end
    slope_flat: Figure
    slope_steep: Figure
    beside: dict[BesideWhat, BesideRow]

    @model_validator(mode="after")
    def _all_beside(self) -> "Practice":
        if missing := set(get_args(BesideWhat)) - self.beside.keys():
            raise ValueError(f"beside: no row for {', '.join(sorted(missing))}")
        if missing := set(get_args(SoilType)) - self.end_slope.keys():
            raise ValueError(f"end_slope: no row for type {', '.join(sorted(missing))}")
        slopes = [self.end_slope[soil].si for soil in sorted(self.end_slope)]
        if slopes != sorted(slopes):
            raise ValueError("end_slope: weaker ground cannot stand steeper")
        return self


class RuleFile(DataRow):
    """`rules.toml`: refusals, then what must be said, most dangerous first."""

    refusal: dict[str, Sentence]  # raised by the sizing itself
    rule: dict[str, Rule]

    @model_validator(mode="after")
    def _known_facts(self) -> "RuleFile":
        for name, rule in self.rule.items():
            for condition in rule.when:
                if condition.fact not in get_args(SizingFact):
                    raise ValueError(f"rule {name}: unknown fact {condition.fact!r}")
            if rule.then == "stop" and not rule.instead:
                raise ValueError(f"rule {name}: a stop must say what to do instead")
        return self

    @cached_property
    def stops(self) -> tuple[tuple[str, Rule], ...]:
        return tuple((name, rule) for name, rule in self.rule.items() if rule.then == "stop")

    @cached_property
    def cautions(self) -> tuple[tuple[str, Rule], ...]:
        return tuple((name, rule) for name, rule in self.rule.items() if rule.then != "stop")
