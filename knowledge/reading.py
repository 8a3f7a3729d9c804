"""What a message was understood to say: the value that every later stage works from.

The service's shell makes readings out of text; here is only their shape. A field that nobody stated
is None (or empty). Nothing is ever filled in by guess: what is missing or can be read in two ways
is named in `questions`.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field

from knowledge.names import DONE, HAZARDS, SOIL_KINDS, SOIL_STATES

Purpose = Literal[  # of two that are asked for at once the one that stands first here is answered
    "size",
    "entry",
    "report",
    "why",
    "close",
    "sketch",
    "steps",
    "kit",
    "status",
    "help",
    "stop",
    "moved",
    "note",
    "handover",
    "take",
    "strip",
    "van",
    "parked",
    "merge",
    "join",
    "due",
    "answer",
    "chat",
    "unclear",
]
MOVES: tuple[Purpose, ...] = (
    "moved", "note", "handover", "take", "strip", "van", "parked", "merge", "join", "due",
)  # fmt: skip
"""The purposes of the job as it moves: each is read from a whole text, never from words among others."""
AnswerWord = Literal["yes", "no", "ignore", "seen", "all safe", "coming"]
How = Literal["ready", "set", "out"]  # how a unit is made ready, set or taken out
SoilType = Literal["A", "B", "C"]
Water = Literal["dry", "damp", "seeping", "standing"]
Face = Literal["stands", "ravelling", "running"]
Ends = Literal["battered", "supported", "open"]
What = Literal["water", "gas", "electric", "telecom", "sewer", "drain", "unknown"]
if TYPE_CHECKING:
    SoilKind = str
    SoilState = str
    Hazard = str
    Done = str
else:  # one of the names that the data files give
    SoilKind, SoilState = Literal[SOIL_KINDS], Literal[SOIL_STATES]
    Hazard, Done = Literal[HAZARDS], Literal[DONE]


class Frozen(BaseModel):
    """A value that cannot change and holds nothing it does not declare."""

    model_config = ConfigDict(frozen=True, extra="forbid")


@dataclass(frozen=True, slots=True)
class Asked:
    """Stands on a field of the reading that a sender can be asked about; those are asked in their order.

    `needed`: nothing is sized without it. `last`: asked about after all others. Of a length, `least` and
    `most` are what it may believably be in metres: what lies outside is asked about (common practice, no
    source). `of_trench`: it measures the trench itself; else something beside it. `nearest`: of "1 to 2 m"
    the lesser counts, since it is a distance to keep.
    """

    needed: bool = False
    last: bool = False
    least: float = 0.0
    most: float = 0.0
    of_trench: bool = False
    nearest: bool = False


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


BesideWhat = Literal[
    "foundation",
    "wall",
    "building",
    "pole",
    "railway",
    "crane",
    "embankment",
    "tree",
    "trench",
    "slope",
    "other",
]


class Beside(Frozen):
    """Something that stands or lies beside the trench, `at_m` clear of its edge; None where nobody told.

    `deep_m`: its underside below ground, or how deep that trench is. `one_in`: a slope of one up in so many
    along. `held`: held by its owner while the trench is open.
    """

    what: BesideWhat
    at_m: float | None = None
    deep_m: float | None = None
    one_in: float | None = None
    held: bool | None = None


class Gauge(Frozen):
    """A gauge reading in bar; `unit` is the unit's number in the trench, None where not said."""

    unit: int | None = None
    bar: float


Guarded = Literal["fence", "fence and lights"]  # one parked wants both


class UnitsSet(Frozen):
    """How many units are said to be set, and at which level; or how many rows of them, each whole."""

    n: int | None = None
    level: int | None = None
    all: bool = False
    rows: int | None = None


class Heads(Frozen):
    """How many people are told to have gone in, or come out."""

    model_config = ConfigDict(populate_by_name=True)

    in_: int | None = Field(None, alias="in")
    out: int | None = None


class UnitsMoved(Frozen):
    """Units that were carried, changed or tagged out: how many, or which by its number in the trench.

    `how`: "carried" out of the trench to another, "arrived" beside it, "changed" for one of another size,
    "damaged" and tagged out, "cleared" for use again, "replaced" by sound ones.
    """

    how: Literal["carried", "arrived", "changed", "damaged", "cleared", "replaced"]
    n: int | None = None
    unit: int | None = None


LOOKING = ("why", "sketch", "steps", "kit", "status", "help")  # purposes that only look, and tell nothing
TAKING = ("carried", "changed", "damaged")  # the trench has fewer units than before


class Air(Frozen):
    """An air test by its figures: per cent by volume, per cent of the lower explosive limit, ppm."""

    oxygen_pct: float | None = None
    lel_pct: float | None = None
    co_ppm: float | None = None
    h2s_ppm: float | None = None


class Details(Frozen):
    """A trench as told: what sizing works from. Metres; kPa; None is untold."""

    depth_m: Annotated[float | None, Asked(needed=True, least=0.3, most=6.0, of_trench=True)] = None
    width_m: Annotated[float | None, Asked(needed=True, least=0.2, most=5.0, of_trench=True)] = None
    length_m: Annotated[float | None, Asked(least=0.2, most=1000.0, of_trench=True)] = None
    soil: Annotated[Soil | None, Asked(needed=True)] = None
    water: Annotated[Water | None, Asked()] = None
    face: Annotated[Face | None, Asked()] = None
    ends: Annotated[Ends | None, Asked()] = None
    spoil_m: Annotated[float | None, Asked(least=0.0, most=50.0, nearest=True)] = None
    plant_m: Annotated[float | None, Asked(least=0.0, most=100.0, nearest=True)] = None
    traffic: Annotated[bool | None, Asked()] = None
    pavement_m: Annotated[float | None, Asked(least=0.01, most=1.0)] = None
    overhang_m: Annotated[float | None, Asked(least=0.01, most=1.0)] = (
        None  # the surface, both sides together
    )
    services: Annotated[tuple[BuriedService, ...], Asked()] = ()
    traffic_m: float | None = None  # live traffic from the edge, metres
    plant_t: float | None = None  # weight of the plant, tonnes
    pit: bool | None = None  # told as a pit, chamber or joint hole
    junction: bool | None = None  # trenches meet in it, or it turns a corner
    beside: Annotated[tuple[Beside, ...], Asked()] = ()
    # Beyond the public contract; they only ever appear where a message says so.
    surcharge_kpa: float | None = None  # stated load of plant or structure beside the trench
    disturbed: bool | None = None  # False: the message says virgin ground
    fissured: bool | None = None
    dipping: bool | None = None  # its layers dip into the trench


PRIVATE = (
    "how", "read_on", "of_every", "spread", "not_so", "left_over", "of_both", "of_works", "denies",
    "site_words", "danger", "agreed", "asks", "about",
)  # fmt: skip
"""What a reading holds for the service itself, and no contract promises; and the `rows` of the units set."""


class Reading(Details):
    """One message, understood."""

    purpose: Purpose = "unclear"
    trench: Annotated[str | None, Asked(last=True)] = None
    gauges: Annotated[tuple[Gauge, ...], Asked()] = ()
    units_set: UnitsSet | None = None
    done: tuple[Done, ...] = ()
    undone: tuple[Done, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    questions: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    proposed: tuple[Done, ...] = ()  # seem meant, but words are left over: nothing of them counts until YES
    possible_hazard: Literal[True] | None = None  # the second reader hears danger that no phrase names
    air: Annotated[Air | None, Asked()] = None
    verdict: Literal["safe", "not safe"] | None = None  # where an inspection says
    heads: Heads | None = None
    place: str | None = None  # where the hole is, in the sender's words
    said_at: str | None = None  # the time said for what is told, local "09:30"
    run_m: float | None = None  # how long a run is or will be, metres
    to: str | None = None  # the person or the trench that something goes to
    # Beyond the public contract; they only ever appear where a message says so.
    allow: Literal[True] | None = None  # the competent person lets people in ("allow T7")
    code: str | None = None  # the short code that proves who allows
    again: Literal[True] | None = None  # "again", "?": send the last answer once more
    same_as: str | None = None  # "T3 is T7", "rename T3 to T7": the other reference, upper case
    answer: AnswerWord | None = None  # what an `answer` says to what the service asked
    not_at: str | None = None  # "that was T4 not T3": the trench that the last text was not of
    moved: UnitsMoved | None = None
    all_out: Literal[True] | None = None  # with `heads`: nobody is left in
    until: str | None = None  # a time or a day said for how long, as written
    run: int | None = None  # the run that something is told of, by its number
    van: int | None = None  # how many units are on the van
    also: tuple[str, ...] = ()  # "T5 and T6 inspected ok": the other trenches, each told by itself
    guarded: Guarded | None = None  # what keeps people off a trench was looked at
    ask: Literal["in the ground"] | None = None  # asks which units stand where
    # Not stated by the message but found in reading it, and no part of the public reading.
    how: How | None = None  # which part of the work a question for the steps asks how to do
    read_on: int | None = None  # "40 bar on all 14": how many units its one pressure is told of
    of_every: Literal[True] | None = None  # "all gauges 40 bar": its one pressure is told of every unit
    spread: Literal[True] | None = None  # the two pressures are the lowest and the highest of the units told
    not_so: tuple[Done, ...] = ()  # spoken of as planned, doubted or not yet done
    left_over: tuple[str, ...] = ()  # words, figures and marks that nothing accounts for: see `whole`
    of_both: Literal[True] | None = None  # "both" of what no trench has two of: of two trenches
    of_works: Literal[True] | None = None  # a machine, a shore, a ladder, a gauge or a face is spoken of
    denies: Literal[True] | None = None  # "no", "not", "nobody"
    site_words: tuple[str, ...] = ()  # words for things of a trench, and for what is said of them
    danger: float | None = None  # how dangerous the second reader finds it, 0 to 1
    agreed: float | None = None  # how probable it finds the purpose, beside the most probable one
    asks: Literal[True] | None = None  # worded as a question; where words are left over both readers hear one
    about: str | None = None  # the fact of entry that the second reader hears reported

    @property
    def whole(self) -> bool:
        """Whether every part of the text is accounted for; of any other only what closes counts."""
        return not self.left_over

    def public(self) -> dict[str, Any]:
        """The reading as JSON data, without what was not stated."""
        data = self.model_dump(
            mode="json",
            by_alias=True,
            exclude_none=True,
            exclude=dict.fromkeys(PRIVATE, True) | {"units_set": {"rows"}},
        )
        return {name: value for name, value in data.items() if value != []}


def details_of(reading: Details) -> Details:
    """Only the trench details of a reading."""
    return Details(**{name: getattr(reading, name) for name in Details.model_fields})


def _asked() -> dict[str, Asked]:
    marked = [
        (name, mark)
        for name, field in Reading.model_fields.items()
        for mark in field.metadata
        if isinstance(mark, Asked)
    ]
    return dict(sorted(marked, key=lambda each: each[1].last))


ASKED = _asked()
"""The fields that a sender can be asked about, in the order in which they are asked."""

LENGTHS = {name.removesuffix("_m"): name for name, mark in ASKED.items() if mark.most}
"""The fields that are lengths, by what is measured: "depth" is told in `depth_m`."""

NEEDED = frozenset(name for name, mark in ASKED.items() if mark.needed)
"""The fields without which nothing is sized."""

YES_NO = ("yes", "no")


def _choices(annotation: object) -> tuple[str, ...]:
    kinds = [each for each in get_args(annotation) if each is not type(None)]
    if kinds == [bool]:
        return YES_NO
    return get_args(kinds[0]) if kinds and get_origin(kinds[0]) is Literal else ()


CHOICES = {name: said for name, field in Details.model_fields.items() if (said := _choices(field.annotation))}
"""The fields that are told in one of a few words, with the words."""
