"""What the service decided: the public contract of every answer.

Amounts are SI, pressures of the pump in bar, depths in metres below ground, positions in metres
along the trench from its start end.
"""

from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal, get_args

from pydantic import ConfigDict, Field, field_serializer, field_validator

from knowledge.names import ENTRY_FACTS
from knowledge.reading import Frozen, Purpose, SoilKind, SoilState, SoilType
from knowledge.sheet import Sheet, SheetLine
from knowledge.sourced import Rulebook
from knowledge.units import Amount

if TYPE_CHECKING:
    EntryFact = str
else:  # one of the names that entry.toml gives
    EntryFact = Literal[ENTRY_FACTS]


class Caution(Frozen):
    """A sentence the crew must see. `numbers` fill the blanks of the sentence in any language."""

    id: str
    say: str
    source: str
    numbers: dict[str, Amount | str] = Field(default_factory=dict, exclude=True)


class Refusal(Frozen):
    """Why these shores will not do here, and what to do instead."""

    rule: str
    say: str
    source: str
    instead: str
    numbers: dict[str, Amount | str] = Field(default_factory=dict, exclude=True)


class Missing(Frozen):
    """A fact that stands in the way of entry. `id` is the rule that says so, for other languages."""

    fact: EntryFact
    say: str
    id: str = Field(default="", exclude=True)
    numbers: dict[str, Amount | str] = Field(default_factory=dict, exclude=True)


class Decided(Frozen):
    """What every outcome can do."""

    model_config = ConfigDict(arbitrary_types_allowed=True)

    def public(self) -> dict[str, Any]:
        """The outcome as JSON data."""
        return self.model_dump(mode="json")


class WithSheet(Decided):
    sheet: Sheet = Field(default_factory=Sheet)

    @field_serializer("sheet")
    def _lines(self, sheet: Sheet) -> list[SheetLine]:
        return sheet.lines

    @field_validator("sheet", mode="before")
    @classmethod
    def _read_lines(cls, given: Any) -> Any:
        return Sheet.of([SheetLine(**line) for line in given]) if isinstance(given, list) else given


class Ask(Decided):
    """Something must be answered first. `questions` are field names of the reading, most dangerous first."""

    kind: Literal["ask"] = "ask"
    questions: tuple[str, ...]
    proposed: tuple[str, ...] = ()  # what YES would take


class Stop(WithSheet):
    """Not with these shores, or not at all."""

    kind: Literal["stop"] = "stop"
    stop: tuple[Refusal, ...]
    soil_type: SoilType | None = None
    rulebook: Rulebook
    kit: str
    cautions: tuple[Caution, ...] = ()


class Level(Frozen):
    """One level of units: depth of the strut axis, how many, and where along the trench.

    `turned_m`: those of the positions where the unit is turned, its rails lying level.
    """

    depth_m: float
    units: int | None = None
    positions_m: tuple[float, ...] | None = None
    turned_m: tuple[float, ...] = ()


class Strut(Frozen):
    """The strut chosen: what length it can take, what it must span, what it carries there."""

    size: str
    extensions_m: tuple[float, ...] = ()
    length_m: tuple[float, float]
    needed_m: float
    capacity_kn: float
    load_kn: float


class Props(Frozen):
    """Units of their own that hold the edges of a surface apart where it overhangs, their rails level.

    `depth_m` is that of their struts. `units` and `positions_m` are None where the length is not told, and
    `units_per_run` counts them over the run of the answer. They are no level, and have no numbers.
    """

    depth_m: float
    units: int | None = None
    units_per_run: int | None = None
    positions_m: tuple[float, ...] | None = None
    strut: Strut

    @property
    def count(self) -> int:
        """How many, of the trench or of the run."""
        return self.units if self.units is not None else self.units_per_run or 0


class Survives(Frozen):
    """What one lost unit leaves its neighbour with, what that takes, and whether it holds.

    `end_kn`: what the neighbour of a lost end unit is left with, alone; None only in answers on record from
    before it was worked.
    """

    neighbour_kn: float
    of_kn: float
    holds: bool
    end_kn: float | None = None

    @property
    def end_holds(self) -> bool:
        """Whether the neighbour of a lost end unit holds."""
        return self.end_kn is not None and self.end_kn <= self.of_kn + 1e-9


class GroundName(Frozen):
    """Described ground: kind, and state where the kind has one."""

    kind: SoilKind | None = None
    state: SoilState | None = None
    type: SoilType | None = None


class HoldsTo(Frozen):
    """How far the plan as given still passes, one thing changed at a time.

    At the limit the answer is the same; short of it a lighter strut may be the answer, though this one does.
    """

    depth_m: float
    width_m: float
    soil: GroundName


class Sized(WithSheet):
    """Units, struts, pressures and stages, with every step on the sheet."""

    kind: Literal["sized"] = "sized"
    units: int | None
    run_m: float | None = None
    units_per_run: int | None = None
    levels: tuple[Level, ...]
    spacing_m: float
    strut: Strut
    pressure_bar: tuple[float, float]
    stages_m: tuple[float, ...]
    boards: bool
    holds_to: HoldsTo
    pressure_kpa: float
    pressure_by: str
    soil_type: SoilType
    rulebook: Rulebook
    kit: str
    governed_by: Literal["working", "table"] = "working"  # our own working, or the supplier's table
    props: Props | None = None  # None: nothing is told to overhang
    survives: Survives | None = None  # None only in answers on record from before it was worked
    cautions: tuple[Caution, ...] = ()
    questions: tuple[str, ...] = ()  # what would sharpen the answer: the length

    @property
    def turned(self) -> tuple[int, ...]:
        """The numbers of the turned units, counted from the front, top level first."""
        every = [(at, level.turned_m) for level in self.levels for at in level.positions_m or ()]
        return tuple(number for number, (at, lying) in enumerate(every, 1) if at in lying)


class Entry(Decided):
    """What stands in the way of entry. `may` is never a permission: the competent person decides."""

    kind: Literal["entry"] = "entry"
    trench: str
    entry: Literal["no", "may"]
    missing: tuple[Missing, ...] = ()
    until: datetime | None = None
    allowed_by: str | None = None  # the competent person, where an allowance is in force
    cautions: tuple[Caution, ...] = ()


class Noted(Decided):
    """A report was taken down."""

    kind: Literal["noted"] = "noted"
    trench: str | None = None
    noted: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    proposed: tuple[str, ...] = ()  # what YES would take


class Told(Decided):
    """Asked for and told: why, kit, steps, sketch, status, help."""

    kind: Literal["told"] = "told"
    about: Purpose | Literal["again"]
    trench: str | None = None
    lines: tuple[str, ...] = ()


class Unclear(Decided):
    """Not understood, or not allowed to this sender; nothing was changed."""

    kind: Literal["unclear"] = "unclear"
    why: str = ""


class Failed(Decided):
    """An error of ours: no answer, do not go in, ring your supervisor."""

    kind: Literal["failed"] = "failed"
    error: str


Outcome = Ask | Stop | Sized | Entry | Noted | Told | Unclear | Failed
OUTCOME_KINDS: tuple[str, ...] = tuple(one.model_fields["kind"].default for one in get_args(Outcome))
"""What an outcome may be, in the order in which people are shown it."""
