"""What is told about one trench, and what is on record once it is told: the values of the record."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from knowledge.outcome import Sized
from knowledge.reading import Details, Hazard, Reading
from knowledge.record.plan_changes import PlanChange
from knowledge.record.set_shores import SetShores
from knowledge.tables.entry_rules import Role, WorkChange
from knowledge.units import Metre

Topic = str  # what of a trench was told: "dug", "water", or a topic of the things done


@dataclass(frozen=True, slots=True)
class Event:
    """One thing told about a trench.

    `at` is when it was sent, UTC, and never later than it came in; `received` is when that was, None where it
    is not known. Of danger and of a plan `at` is when it came in (`trench.told`): no sender's clock makes it
    older, and nobody set a unit by a plan that was not given yet; `sent` is then when it was sent, so that
    what a late text tells is no fresher for it. `plan`
    is the sizing answer given to it and `sized_on` the details that answer was worked from; `stopped` says
    that no plan came of what was told; `code_ok` that the code sent to the number on file came back from that
    number in time, and `until` when the leave so given ends, as it was told then. `came` is its place in the
    order of coming in, which the record gives. `words` are the text as sent. `open_text` says that nobody
    understood it and it bears on this trench; `seen` names the events whose words this sender was shown and
    has now answered for, by SEEN or by inspecting. `withdraws` names events that were told of the wrong
    trench, and `from_ref` the trench that this one was first told of. `retold`: it stands at an earlier time
    than it came in at, because it was said for then. `other_crew`: its sender tells another trench under this
    name, until they say that it is the same. `lapsed`: the sender's appointment as the competent person had
    run out. `offered` is what its sender was asked with YES, or to tell anew, since words were left over: it
    counts when they do, and not of this.
    """

    id: str
    at: datetime
    by: str
    number: str
    role: Role
    reading: Reading
    plan: Sized | None = None
    sized_on: Details | None = None
    stopped: bool = False
    code_ok: bool = False
    until: datetime | None = None
    came: int | None = None
    words: str = ""
    open_text: bool = False
    seen: tuple[str, ...] = ()
    withdraws: tuple[str, ...] = ()
    from_ref: str = ""
    retold: bool = False
    other_crew: bool = False
    lapsed: bool = False
    offered: Reading | None = None
    received: datetime | None = None
    sent: datetime | None = None

    @property
    def heard(self) -> datetime:
        """When it was told to us, whatever it says of itself."""
        return max(self.at, self.received or self.at)

    def __post_init__(self) -> None:
        if (self.plan is None) != (self.sized_on is None):
            raise ValueError("a plan and the details it was sized on come together")


@dataclass(frozen=True, slots=True)
class ToldBy:
    """Who told a fact, when, and in which event."""

    at: datetime
    by: str
    role: Role
    event: str


@dataclass(frozen=True, slots=True)
class OpenHazard:
    """A hazard that nobody has re-inspected. `came` is the last report of it in the order of coming in, and
    `heard` when that was."""

    kind: Hazard
    said: ToldBy
    came: int
    heard: datetime


@dataclass(frozen=True, slots=True)
class Quoted:
    """Words that hold entry back: who sent them, from which number, and when they came in (`Event.came`,
    `Event.heard`)."""

    said: ToldBy
    number: str
    words: str
    came: int
    heard: datetime


@dataclass(frozen=True, slots=True)
class OpenText(Quoted):
    """A text that nobody understood; `sizing` where it is a sizing that was not read in full."""

    sizing: bool = False


@dataclass(frozen=True, slots=True)
class Stopped(Quoted):
    """Somebody's word that nobody goes in."""


@dataclass(frozen=True, slots=True)
class Possible(Quoted):
    """Danger that no phrase names, heard by the second reader: how dangerous, from nought to one."""

    danger: float


@dataclass(frozen=True, slots=True)
class DugRun:
    """A length of a trench that advances, from `start_m` to `end_m` along it (None: not known).

    Of a run left behind, `units` are those that stood in it then, and `filled` who told it backfilled.
    """

    number: int
    start_m: Metre | None
    end_m: Metre | None
    begun: ToldBy | None = None
    units: int = 0
    filled: ToldBy | None = None


@dataclass(frozen=True, slots=True)
class Tagged:
    """Units out of use until a named person clears them: how many, and who tagged them out."""

    n: int
    said: ToldBy


@dataclass(frozen=True, slots=True)
class Parked:
    """Left open over a night or more. `until` as told: a day from Monday at nought, or a time; "" untold.
    `looked` is when its fence and lights were last looked at, and by whom."""

    said: ToldBy
    number: str
    until: str = ""
    looked: ToldBy | None = None


@dataclass(frozen=True, slots=True)
class Handed:
    """A trench handed to somebody: it counts once they take it."""

    said: ToldBy
    number: str
    name: str
    until: str = ""
    taken: ToldBy | None = None


@dataclass(frozen=True, slots=True)
class InspectionCause:
    """The last thing that calls for a new inspection: a hazard, or a change of the works."""

    why: WorkChange | Literal["hazard"]
    at: datetime
    kind: Hazard | None = None


@dataclass(frozen=True, slots=True)
class TrenchState:
    """A trench as it stands. None or absent is untold."""

    details: Details = field(default_factory=Details)
    plan: Sized | None = None
    planned: Details | None = None
    plan_said: ToldBy | None = None
    refused: bool = False
    changed: tuple[PlanChange, ...] = ()
    dug_m: Metre | None = None
    dug_told_m: Metre | None = None  # as last told for sure: a doubt counts as depth, never as told
    filled_m: Metre | None = None  # backfilled up to this depth below ground
    spoil_m: Metre | None = None  # None with the topic "spoil" told: back, no distance said
    shores: SetShores = field(default_factory=SetShores)
    said: Mapping[Topic, ToldBy] = field(default_factory=dict)
    hazards: tuple[OpenHazard, ...] = ()
    possible: tuple[Possible, ...] = ()
    doubted: tuple[Possible, ...] = ()  # said to be safe since: their words stand beside the next `may`
    open_texts: tuple[OpenText, ...] = ()
    stopped: tuple[Stopped, ...] = ()
    air_suspect: bool = False
    alarm_at: datetime | None = None  # when the last hazard was told
    alarm_answered: ToldBy | None = None  # who said since that they come, or have seen it
    inspected: ToldBy | None = None
    inspection_cause: InspectionCause | None = None
    closed: ToldBy | None = None
    runs: tuple[DugRun, ...] = ()  # none until it first moves on; the last is the open one
    run_by_m: Metre | None = None  # it is opened so much at a time
    heads: int = 0  # people told to be in
    heads_said: ToldBy | None = None
    place: str = ""  # where it is, in the words of the crew
    arrived: int = 0  # units told to lie beside it, not set
    tagged: tuple[Tagged, ...] = ()
    parked: Parked | None = None
    handed: Handed | None = None
    strip: ToldBy | None = None  # the competent person said that the units may come out
    apart: tuple[str, ...] = ()  # numbers that tell another trench under this name
    told: tuple[str, ...] = ()  # numbers that have texted about this trench, first come first
    last_at: datetime | None = None

    @property
    def whole(self) -> Details:
        """The details with the depth as told for the whole trench or as dug, whichever is greater."""
        return self.details.model_copy(update={"depth_m": self.depth_m})

    @property
    def depth_m(self) -> Metre | None:
        """The depth as told for the whole trench or as dug, whichever is greater; None: neither is known."""
        depths = [d for d in (self.details.depth_m, self.dug_m) if d is not None]
        return max(depths, default=None)

    @property
    def taking_out(self) -> bool:
        """Whether backfill or units out were told, and no unit was told set since."""
        return "backfill" in self.said or "units out" in self.said

    @property
    def holds(self) -> bool:
        """Whether a plan is in force for the trench as it now is."""
        return self.plan is not None and not self.refused and not self.changed
