"""A plain model of one trench, worked from what was meant and from no word of it: the judge of the simulator.

It knows no record, no reading and no table of the service. Of two ways to be wrong it has one: it may find
less in the way of entry than the service does, never more.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

NOISE = 1e-6
SPOIL_M = 1.0  # from the edge
TAPE_M = 0.011  # what a tape may be off by
SLEEPS = timedelta(minutes=15)  # so long a leave sleeps while words are open
FACTS = ("services", "ladder", "ends", "spoil", "water", "air test")
OF_THE_SHIFT = ("ladder", "spoil", "water", "air test", "gauges")


@dataclass(frozen=True)
class Figures:
    """The figures of entry that the office changes in the simulation, hours."""

    air_h: float = 4.0
    pause_h: float = 8.0


@dataclass(frozen=True)
class Text:
    """One text as its writer meant it. `sent` is as the service believes it, `came` the order of coming in;
    `proven` says that nobody else can have sent it. `of` are the texts that it takes back or rests on."""

    id: str
    number: str
    role: str
    ref: str | None
    kind: str
    value: Any
    sent: datetime
    received: datetime
    came: int
    proven: bool = True
    of: tuple[str, ...] = ()
    retold: bool = False

    @property
    def heard(self) -> datetime:
        return max(self.sent, self.received)

    @property
    def place(self) -> datetime:
        """Where it stands among the others: danger and plans by when they came in."""
        return self.heard if self.kind in ("hazard", "size", "planned") else self.sent


@dataclass
class Standing:
    """What holds at a trench after some texts."""

    plan: dict[str, Any] | None = None
    dug_m: float | None = None
    told: dict[str, tuple[datetime, str]] = field(default_factory=dict)
    spoil_m: float | None = None
    units: bool = False
    changed: bool = True  # since the last inspection
    inspected: Text | None = None
    bad: set[str] = field(default_factory=set)
    hazards: list[Text] = field(default_factory=list)
    stops: list[Text] = field(default_factory=list)
    open: list[Text] = field(default_factory=list)
    heads: int = 0
    last: datetime | None = None


def shift_of(now: datetime) -> tuple[datetime, datetime]:
    """Begin and end of the span that holds `now`, of a shift from 07:00 to 18:00 in winter."""
    seven = now.replace(hour=7, minute=0, second=0, microsecond=0)
    six = seven.replace(hour=18)
    if now < seven:
        return six - timedelta(days=1), seven
    return (seven, six) if now < six else (six, seven + timedelta(days=1))


def in_order(texts: Iterable[Text], ref: str) -> list[Text]:
    """The texts of one trench in the order in which they count."""
    return sorted((text for text in texts if text.ref == ref), key=lambda text: (text.place, text.came))


def standing(texts: Sequence[Text]) -> Standing:
    """What holds once these texts of one trench, in their order, were told."""
    at = max((i for i, text in enumerate(texts) if text.kind == "taken back"), default=-1)
    if at >= 0:  # from then on as if it had not been, but for what speaks against entry
        gone = {name for text in texts[: at + 1] for name in text.of if text.kind == "taken back"}
        texts = [
            text for text in texts[: at + 1] if text.id.removesuffix("/plan") not in gone or _against(text)
        ] + list(texts[at + 1 :])
    state = Standing()
    for text in texts:
        _tell(state, text)
    return state


def _against(text: Text) -> bool:
    return text.kind in ("hazard", "stop", "undone")


def _tell(state: Standing, text: Text) -> None:
    """Take one text down. Who may only look tells danger and stops, and nothing else."""
    kind, value, said = text.kind, text.value, (text.sent, text.id)
    may_tell = text.role in ("fitter", "supervisor")
    state.last = max(state.last or text.sent, text.sent)
    _answered(state, text)
    if kind == "hazard":
        state.hazards.append(text)
    elif kind == "stop":
        state.stops.append(text)
    elif kind in ("open", "soft"):
        state.open.append(text)
    elif not may_tell:
        return
    elif kind == "fact":
        state.told[value] = said
        if value == "ends":
            state.bad.discard("ends")
    elif kind == "undone":
        state.told.pop(value, None)
        if value == "units":
            state.changed, state.units = True, False
    elif kind == "water":
        state.told["water"] = said
        (state.bad.discard if value == "dry" else state.bad.add)("water")
    elif kind == "ends open":
        state.bad.add("ends")
    elif kind == "spoil":
        state.told["spoil"], state.spoil_m = said, value
    elif kind == "dug":
        state.changed = state.changed or value != state.dug_m
        state.dug_m = value
    elif kind == "units":
        state.changed = state.changed or not state.units
        state.units = True
        state.told["gauges"] = said
        state.bad.discard("gauges")
    elif kind == "units set":  # and nothing of their gauges
        state.changed = state.changed or not state.units
        state.units = True
    elif kind == "gauges" and state.units:
        # All of them read anew; who looked before one was pumped to its band looks again.
        state.changed = state.changed or "gauges" in state.bad or "gauges" not in state.told
        state.told["gauges"] = said
        state.bad.discard("gauges")
    elif kind == "gauge":
        state.bad.add("gauges")
    elif kind in ("size", "planned"):
        if kind == "size":  # every trench of these is told dry as it is sized
            state.told["water"] = said
            state.bad.discard("water")
        if state.plan is None or state.plan["shores"] != value["shores"]:
            state.units, state.changed = False, True
            state.told.pop("gauges", None)
        state.plan = value
    elif kind == "refused":  # no plan, but what was told of the trench is told
        state.bad.discard("water")
    elif kind == "moved":
        state.told, state.dug_m, state.units, state.changed = {}, None, False, True
        state.bad -= {"gauges"}
        state.plan = value or state.plan
    elif kind in ("fewer", "replaced"):
        state.units, state.changed = False, True
    elif kind == "parked":
        state.changed = True
    elif kind == "closed":
        heads = state.heads
        state.__init__(heads=heads)  # type: ignore[misc]
    elif kind == "heads":
        state.heads = max(0, state.heads + value)
    elif kind == "inspected" and text.role == "supervisor":
        state.inspected, state.changed = text, False


def _answered(state: Standing, text: Text) -> None:
    """What this text may have answered for: only what had come in, and was sent, before it."""

    def later(one: Text) -> bool:
        own = one.number == text.number
        return one.came < text.came and (own or one.heard <= text.sent)

    if text.kind == "inspected" and text.role == "supervisor" and text.proven:
        state.hazards = [one for one in state.hazards if not later(one) or one.heard > text.sent]
        state.stops = [one for one in state.stops if not later(one)]
    if text.kind == "seen" and text.role == "supervisor" and text.proven:
        state.stops = [one for one in state.stops if not (one.role == "fitter" and later(one))]
    if text.kind == "open":
        return

    def ends(one: Text) -> bool:
        speaks = text.number == one.number or text.role == "supervisor"
        return speaks and (one.kind == "soft" or later(one))

    state.open = [one for one in state.open if not ends(one)]


def in_the_way(state: Standing, now: datetime, figures: Figures) -> list[str]:
    """What forbids entry as things stand."""
    begin, _ = shift_of(now)
    found = [f"hazard {one.id}" for one in state.hazards] + [f"stop {one.id}" for one in state.stops]
    found += [f"open {one.id}" for one in state.open]
    if state.plan is None:
        return [*found, "no plan"]
    if not state.units:
        found.append("units")
    if "gauges" not in state.told:
        found.append("gauges")
    if state.dug_m is None:
        found.append("dug")
    elif state.dug_m > state.plan["depth_m"] + TAPE_M:
        found.append("deeper than planned")
    found += [fact for fact in FACTS if fact not in state.told]
    found += [f"bad {fact}" for fact in sorted(state.bad)]
    found += [f"old {fact}" for fact in OF_THE_SHIFT if fact in state.told and state.told[fact][0] < begin]
    if "air test" in state.told and now - state.told["air test"][0] >= timedelta(hours=figures.air_h):
        found.append("old air test")
    if state.spoil_m is not None and state.spoil_m < SPOIL_M - NOISE:
        found.append("spoil too near")
    if state.inspected is None or state.inspected.sent < begin or state.changed:
        found.append("inspection")
    if state.last and now - state.last >= timedelta(hours=figures.pause_h):
        found.append("pause")
    return found


def leave_stands(texts: Sequence[Text], now: datetime, figures: Figures) -> str:
    """Why no leave can be in force at a trench, "" where one can: the last code that came back rested on a
    whole record, and nothing has touched that since. `texts` are in their order."""
    given = max((i for i, text in enumerate(texts) if text.kind == "leave"), default=-1)
    if given < 0:
        return "no code came back"
    leave = texts[given]
    air_h = min(figures.air_h, leave.value.air_h)  # no figure changed later makes it longer
    before = standing(texts[: given + 1])
    if why := in_the_way(before, leave.sent, figures):
        return f"given though {why}"
    if any(text.retold and text.came > leave.came for text in texts[:given]):
        return "it rests on what was said for an earlier time"
    basis = {id for _, id in before.told.values()} | ({before.inspected.id} if before.inspected else set())
    if any(basis & set(text.of) for text in texts[given + 1 :] if text.kind == "taken back"):
        return "what it rests on was taken back"
    if now >= shift_of(leave.sent)[1]:
        return "the shift has ended"
    if now - before.told["air test"][0] >= timedelta(hours=air_h):
        return "the air test has run out"
    asleep: datetime | None = None
    for n in range(given + 2, len(texts) + 2):
        at = texts[n - 1].sent if n <= len(texts) else now
        why = in_the_way(standing(texts[:n]), at, figures)
        if any(not each.startswith("open ") for each in why):
            return f"since {at:%d %H:%M}: {why}"
        asleep = (asleep or at) if why else asleep
        if asleep and at - asleep > SLEEPS:
            return f"words were open from {asleep:%d %H:%M} to {at:%d %H:%M}"
        asleep = asleep if why else None
    return f"words are open since {asleep:%d %H:%M}" if asleep else ""
