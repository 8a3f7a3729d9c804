"""What a message was understood to say: the value that every later stage works from.

The service's shell makes readings out of text; here is only their shape. A field that nobody stated
is None (or empty). Nothing is ever filled in by guess: what is missing or can be read in two ways
is named in `questions`.
"""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

Purpose = Literal[
    "size",
    "entry",
    "report",
    "why",
    "kit",
    "steps",
    "sketch",
    "status",
    "help",
    "close",
    "stop",
    "answer",
    "chat",
    "unclear",
]
AnswerWord = Literal["yes", "no", "ignore", "seen", "all safe"]
SoilKind = Literal["clay", "silt", "sand", "gravel", "made ground", "peat", "chalk", "rock", "topsoil"]
SoilState = Literal[
    "very soft",
    "soft",
    "firm",
    "stiff",
    "very stiff",
    "hard",
    "very loose",
    "loose",
    "medium dense",
    "dense",
    "very dense",
]
SoilType = Literal["A", "B", "C"]
Water = Literal["dry", "damp", "seeping", "standing"]
Face = Literal["stands", "ravelling", "running"]
Ends = Literal["battered", "supported", "open"]
What = Literal["water", "gas", "electric", "telecom", "sewer", "drain", "unknown"]
Done = Literal[
    "units set",
    "inspection",
    "ladder",
    "ends battered",
    "ends supported",
    "spoil back",
    "services located",
    "services supported",
    "air test",
    "backfill",
    "units out",
]
Hazard = Literal[
    "water",
    "crack",
    "movement",
    "fall of ground",
    "pressure loss",
    "fluid leak",
    "gas",
    "plant close",
    "rain",
    "frost",
    "strike",
    "person hurt",
    "other",
]


class Frozen(BaseModel):
    """A value that cannot change and holds nothing it does not declare."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Soil(Frozen):
    """Ground as described: kind and state of the field, or a 29 CFR 1926 Subpart P type, or both."""

    kind: SoilKind | None = None
    state: SoilState | None = None
    type: SoilType | None = None


class BuriedService(Frozen):
    """A pipe or cable met in the trench.

    `at_m` is its position along the trench from the start end where it crosses; None for one that
    runs along a face. `depth_m` is below ground. None is unknown, never zero.
    """

    what: What = "unknown"
    at_m: float | None = None
    depth_m: float | None = None


class Gauge(Frozen):
    """A gauge reading in bar; `unit` is the unit's number in the trench, None where not said."""

    unit: int | None = None
    bar: float


class UnitsSet(Frozen):
    """How many units are said to be set, and at which level."""

    n: int | None = None
    level: int | None = None
    all: bool = False


class Air(Frozen):
    """An air test by its figures: per cent by volume, per cent of the lower explosive limit, ppm."""

    oxygen_pct: float | None = None
    lel_pct: float | None = None
    co_ppm: float | None = None
    h2s_ppm: float | None = None


class Details(Frozen):
    """A trench as told: what sizing works from. Metres; kPa; None is untold."""

    depth_m: float | None = None
    width_m: float | None = None
    length_m: float | None = None
    soil: Soil | None = None
    water: Water | None = None
    face: Face | None = None
    ends: Ends | None = None
    spoil_m: float | None = None
    plant_m: float | None = None
    traffic: bool | None = None
    pavement_m: float | None = None
    services: tuple[BuriedService, ...] = ()
    # Beyond the public contract; they only ever appear where a message says so.
    surcharge_kpa: float | None = None  # stated load of plant or structure beside the trench
    disturbed: bool | None = None  # False: the message says virgin ground
    fissured: bool | None = None


class Reading(Details):
    """One message, understood."""

    purpose: Purpose = "unclear"
    trench: str | None = None
    gauges: tuple[Gauge, ...] = ()
    units_set: UnitsSet | None = None
    done: tuple[Done, ...] = ()
    undone: tuple[Done, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    questions: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    proposed: tuple[Done, ...] = ()  # seem meant, but words are left over: nothing of them counts until YES
    possible_hazard: Literal[True] | None = None  # the second reader hears danger that no phrase names
    air: Air | None = None
    verdict: Literal["safe", "not safe"] | None = None  # where an inspection says
    # Beyond the public contract; they only ever appear where a message says so.
    allow: Literal[True] | None = None  # the competent person lets people in ("allow T7")
    code: str | None = None  # the short code that proves who allows
    again: Literal[True] | None = None  # "again", "?": send the last answer once more
    same_as: str | None = None  # "T3 is T7", "rename T3 to T7": the other reference, upper case
    answer: AnswerWord | None = None  # what an `answer` says to what the service asked
    # Not stated by the message but found in reading it, and no part of the public reading.
    not_so: tuple[Done, ...] = ()  # spoken of as planned, doubted or not yet done
    left_over: tuple[str, ...] = ()  # words, figures and marks that nothing accounts for: see `whole`
    danger: float | None = None  # how dangerous the second reader finds it, 0 to 1

    @property
    def whole(self) -> bool:
        """Whether every part of the text is accounted for; of any other only what closes counts."""
        return not self.left_over

    def public(self) -> dict[str, Any]:
        """The reading as JSON data, without what was not stated."""
        data = self.model_dump(mode="json", exclude_none=True, exclude={"not_so", "left_over", "danger"})
        return {name: value for name, value in data.items() if value != []}


def details_of(reading: Details) -> Details:
    """Only the trench details of a reading."""
    return Details(**{name: getattr(reading, name) for name in Details.model_fields})
