"""Random days at one trench, told in any order: `may` never comes with anything open, untold, old or void.

The judge is a second, naive reading of everything told so far, written without the record. Each history
starts from a good day, so that `may` is there to be lost and won again. A second machine keeps count of an
allowance that sleeps while words are open, and wakes only as stated.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from trench_days import (
    AIR,
    ALL_SET,
    ALLOW,
    AT_40,
    DRY,
    DUG,
    ENDS,
    INSPECTED,
    LADDER,
    LOCATED,
    SHIFT,
    SIZING,
    SPOIL,
    event,
    gauges,
    good_day,
    hazard,
    plan_for,
    tables,
)

from knowledge.entry.may_enter import entry
from knowledge.reading import Air, Gauge, Reading, Soil
from knowledge.record.trench import Event, told

DEEP = SIZING.model_copy(update={"depth_m": 1.9})
GOOD = (DUG, ALL_SET, AT_40, LADDER, SPOIL, ENDS, LOCATED, DRY, AIR, INSPECTED)
BAD = (
    Reading(depth_m=1.9),
    Reading(soil=Soil(kind="sand", state="loose")),
    Reading(water="standing"),
    Reading(ends="open"),
    Reading(spoil_m=0.2),
    Reading(undone=("ladder",)),
    Reading(undone=("units set",)),
    Reading(undone=("services located",)),
    Reading(done=("units out",)),
    Reading(done=("inspection",), hazards=("other",)),
    gauges(40, 40, 20),
    gauges(46),
    Reading(undone=("inspection",)),
    Reading(purpose="stop"),
    Reading(verdict="not safe"),
    Reading(possible_hazard=True, danger=0.6),
    Reading(possible_hazard=True, danger=0.9),
    Reading(air=Air(oxygen_pct=18.0)),
    Reading(gauges=(Gauge(bar=30.0),)),
    hazard("crack"),
    hazard("rain"),
    hazard("fluid leak"),
    hazard("gas"),
)
LEFT_OVER = ("so robin says",)
HELD_OPEN = (Reading(purpose="unclear", left_over=LEFT_OVER), Reading(purpose="chat"), LADDER)
ANSWERS = tuple(
    Reading(purpose="answer", answer=word) for word in ("yes", "no", "ignore", "seen", "all safe")
)
GOOD_DAY = good_day()
ROLES = st.sampled_from(("fitter", "supervisor", "office"))


class Site(RuleBasedStateMachine):
    """Tells good news and bad, late and in time, by anybody, as hours go by."""

    @initialize()
    def begin(self) -> None:
        self.trench, self.now = GOOD_DAY.trench, GOOD_DAY.now
        self.came_in = list(GOOD_DAY.trench.events)
        assert self.answer() == "may"

    def tell(self, reading: Reading, role: str, minutes_late: int = 0, **more: object) -> None:
        self.now += timedelta(minutes=1)
        at = self.now - timedelta(minutes=minutes_late)
        self.came_in.append(event(reading, at, role, **more))  # type: ignore[arg-type]
        self.trench = told(self.trench, self.came_in[-1], tables)

    @rule(reading=st.sampled_from(GOOD), role=ROLES)
    def good(self, reading: Reading, role: str) -> None:
        self.tell(reading, role)

    @rule(reading=st.sampled_from(BAD), role=ROLES)
    def bad(self, reading: Reading, role: str) -> None:
        self.tell(reading, role)

    @rule(reading=st.sampled_from(GOOD + BAD + ANSWERS), role=ROLES, minutes=st.integers(0, 30))
    def partly(self, reading: Reading, role: str, minutes: int) -> None:
        partly = reading.model_copy(update={"left_over": LEFT_OVER})
        self.tell(partly, role, minutes, seen=self.shown())

    @rule(reading=st.sampled_from(HELD_OPEN), role=ROLES, minutes=st.integers(0, 30))
    def not_understood(self, reading: Reading, role: str, minutes: int) -> None:
        self.tell(reading, role, minutes, open_text=True, words="odd at the far end")

    @rule(
        reading=st.sampled_from((*ANSWERS, INSPECTED)),
        role=ROLES,
        minutes=st.integers(0, 30),
        shown=st.booleans(),
    )
    def answers(self, reading: Reading, role: str, minutes: int, shown: bool) -> None:
        self.tell(reading, role, minutes, seen=self.shown() if shown else ())

    def shown(self) -> tuple[str, ...]:
        """Ids of all words that a reply would list."""
        now = self.trench.now
        return tuple(each.said.event for each in (*now.open_texts, *now.stopped))

    @rule(reading=st.sampled_from(GOOD + BAD), role=ROLES, minutes=st.integers(0, 600))
    def late(self, reading: Reading, role: str, minutes: int) -> None:
        self.tell(reading, role, minutes)

    @rule(reading=st.sampled_from((SIZING, DEEP)), refused=st.booleans())
    def size(self, reading: Reading, refused: bool) -> None:
        if refused:
            self.tell(reading, "fitter", stopped=True)
        else:
            plan = plan_for() if reading is SIZING else plan_for(1.9, (0.6, 1.35))
            self.tell(reading, "fitter", plan=plan)

    @rule()
    def mend_all(self) -> None:
        self.tell(SIZING, "fitter", plan=plan_for())
        for reading in (DUG, AT_40, LADDER, SPOIL, ENDS, LOCATED, AIR):
            self.tell(reading, "supervisor")
        self.tell(INSPECTED, "supervisor", seen=self.shown())

    @rule(code=st.booleans(), role=ROLES)
    def allow(self, code: bool, role: str) -> None:
        self.tell(ALLOW, role, code_ok=code)

    @rule(minutes=st.sampled_from((5, 45, 241, 500, 900)))
    def wait(self, minutes: int) -> None:
        self.now += timedelta(minutes=minutes)

    def answer(self) -> str:
        return entry(self.trench, self.now, tables, SHIFT).entry

    @invariant()
    def may_only_on_good_grounds(self) -> None:
        found = entry(self.trench, self.now, tables, SHIFT)
        if found.entry == "may":
            assert in_the_way(self.came_in, self.now) == []
            assert found.until is not None
            assert self.now < found.until <= SHIFT.close(self.now)
        if found.allowed_by:
            assert found.entry == "may"
            assert any(e.code_ok and e.role == "supervisor" for e in self.came_in)


def in_the_way(came_in: list[Event], now: datetime) -> list[str]:
    """Naively, from the texts alone: what forbids entry. It may find less than the record, never more."""
    events = sorted(came_in, key=lambda e: e.at)
    works = [e for e in events if e.role != "office"]
    whole = [e for e in works if e.reading.whole]
    begin = SHIFT.begin(now)

    def last(wanted: str) -> int:
        """Place of the last event that tells this with nothing left over, -1 for none."""
        return max((i for i, e in enumerate(works) if wanted in e.reading.done and e in whole), default=-1)

    def last_undone(wanted: str) -> int:
        return max((i for i, e in enumerate(works) if wanted in e.reading.undone), default=-1)

    def told(name: str, bad: Callable[[Any], bool]) -> list[Event]:
        """Events that tell a detail and count: those with nothing left over, of the others the bad ones."""
        said = [e for e in works if getattr(e.reading, name) not in (None, ())]
        return [e for e in said if e in whole or bad(getattr(e.reading, name))]

    def after(answer: Event, said: Event) -> bool:
        """Sent after it and come in after it: both, or nobody has answered for it."""
        return events.index(answer) > events.index(said) and came_in.index(answer) > came_in.index(said)

    found = []
    inspections = [
        e
        for e in events
        if e.role == "supervisor"
        and "inspection" in e.reading.done
        and e.reading.verdict == "safe"
        and e.reading.whole
        and not e.reading.hazards
        and not e.open_text
    ]
    answers = [e for e in events if e.reading.whole and not e.open_text]
    seen = [e for e in answers if e.role == "supervisor"]
    inspected = max((events.index(e) for e in inspections), default=-1)
    for said in events:
        cleared = any(after(e, said) for e in inspections)
        if (
            said.reading.hazards or (said.reading.air and said.reading.air.oxygen_pct == 18.0)
        ) and not cleared:
            found.append("open hazard")
        if said.open_text and not any(
            (
                e.number == said.number
                and e.reading.answer not in ("no", "seen", "all safe")
                and e.reading.purpose != "chat"
            )
            or said.id in e.seen
            for e in answers
            if after(e, said) and (e.number == said.number or e in seen)
        ):
            found.append("open text")
        stops = said.reading.purpose == "stop" or said.reading.verdict == "not safe"
        if stops and not cleared:
            lifted = said.role == "fitter" and any(said.id in e.seen and after(e, said) for e in seen)
            found += [] if lifted else ["stopped"]
        if said.reading.possible_hazard and not cleared:
            mild = (said.reading.danger or 1.0) < 0.8
            safe = [e for e in answers if e.reading.answer == "all safe" and after(e, said)]
            danger = [e for e in events if "other" in e.reading.hazards and after(e, said)]
            if not danger and not any(e in seen or (mild and e.number == said.number) for e in safe):
                found.append("possible")
    if inspected < 0 or events[inspected].at < begin:
        found.append("inspection lapsed")
    undone = max((events.index(e) for e in events if "inspection" in e.reading.undone), default=-1)
    if undone > inspected:
        found.append("inspection taken back")
    sizings = [e for e in works if e.plan or e.stopped]
    if not sizings or sizings[-1].stopped:
        found.append("no plan")
    else:
        plan = sizings[-1].plan
        full = plan.stages_m[-1] if plan else 0.0
        dug = [
            e.reading.depth_m or 0.0
            for e in told("depth_m", lambda d: d > full)
            if e.reading.purpose != "size"
        ]
        if plan and (not dug or dug[-1] > plan.stages_m[-1] + 0.011):
            found.append("void plan")
        soils = [e.reading.soil for e in told("soil", lambda soil: soil != SIZING.soil)]
        if soils[-1] != SIZING.soil:
            found.append("void plan")
        if plan and dug and dug[-1] - plan.levels[-1].depth_m > 0.601:
            found.append("gap below")
    for fact in ("ladder", "air test"):
        if last(fact) < 0 or works[last(fact)].at < begin or last_undone(fact) >= last(fact):
            found.append(fact)
    if now - works[last("air test")].at >= timedelta(hours=4):
        found.append("old air test")
    if last("services located") < 0 or last_undone("services located") >= last("services located"):
        found.append("services")
    if last("units set") < max(last_undone("units set"), last("units out")):
        found.append("units")
    waters = told("water", lambda water: water != "dry")
    if not waters or waters[-1].reading.water != "dry" or waters[-1].at < begin:
        found.append("water")
    ends = [e.reading.ends for e in told("ends", lambda ends: ends == "open")]
    if not ends or ends[-1] == "open":
        found.append("ends")
    spoils = told("spoil_m", lambda spoil: spoil < 0.6)
    if not spoils or (spoils[-1].reading.spoil_m or 0) < 0.6 or spoils[-1].at < begin:
        found.append("spoil")
    read = told("gauges", lambda read: any(not 28 <= g.bar <= 50 for g in read))
    if not read or any(not 28 <= g.bar <= 50 for g in read[-1].reading.gauges):
        found.append("pressure")
    return found


Site.TestCase.settings = settings(max_examples=800, stateful_step_count=8)
TestSite = Site.TestCase


class Leave(RuleBasedStateMachine):
    """An allowance, and what ends it, puts it to sleep and wakes it; every text in time."""

    @initialize()
    def begin(self) -> None:
        self.day = good_day()
        self.allowed = False  # it has not ended
        self.open: dict[str, datetime] = {}  # numbers with words open, since when
        self.asleep: datetime | None = None

    def ends(self) -> None:
        self.allowed, self.asleep = False, None

    def wakes(self) -> None:
        if self.asleep and self.day.now - self.asleep > timedelta(minutes=15):
            self.ends()
        if not self.open:
            self.asleep = None

    @precondition(lambda self: not self.open)
    @rule()
    def allow(self) -> None:
        self.day.tell(ALLOW, "supervisor", code_ok=True)
        self.allowed = True

    @rule(role=ROLES)
    def not_understood(self, role: Any) -> None:
        self.day.tell(HELD_OPEN[0], role, open_text=True, words="odd")
        self.wakes()
        self.open.setdefault(role, self.day.now)
        self.asleep = self.asleep or self.day.now

    @rule(role=ROLES)
    def ignore(self, role: Any) -> None:
        self.day.tell(ANSWERS[2], role)
        self.open.pop(role, None)
        self.wakes()

    @rule(role=st.sampled_from(("fitter", "supervisor")))
    def reports(self, role: Any) -> None:
        self.day.tell(LADDER, role)
        self.open.pop(role, None)
        self.wakes()

    @rule(role=ROLES)
    def seen(self, role: Any) -> None:
        words = tuple(each.said.event for each in self.day.trench.now.open_texts)
        self.day.tell(ANSWERS[3], role, seen=words)
        if role == "supervisor":
            self.open.clear()
        self.wakes()

    @rule(bad=st.sampled_from((Reading(undone=("ladder",)), hazard("frost"), Reading(purpose="stop"))))
    def ends_for_good(self, bad: Reading) -> None:
        words = tuple(each.said.event for each in self.day.trench.now.open_texts)
        self.day.tell(bad.model_copy(update={"left_over": LEFT_OVER})).tell(LADDER)
        self.day.tell(INSPECTED, "supervisor", seen=words)
        self.open.clear()
        self.ends()

    @rule(minutes=st.integers(1, 12))
    def wait(self, minutes: int) -> None:
        self.day.wait(minutes=minutes)

    @invariant()
    def as_counted(self) -> None:
        found = self.day.entry()
        assert found.entry == ("no" if self.open else "may")
        assert found.allowed_by == ("Alex" if self.allowed and not self.open else None)


Leave.TestCase.settings = settings(max_examples=350, stateful_step_count=10, deadline=None)
TestLeave = Leave.TestCase


def test_the_naive_judge_finds_each_fault() -> None:
    """The judge of the histories above is no rubber stamp."""
    day = good_day()
    assert in_the_way(list(day.trench.events), day.now) == []
    for reading in BAD:
        # What a gauge fell or rose from is no matter of a text alone: its own tests are in test_gauges.py.
        if not any(28 <= g.bar <= 50 for g in reading.gauges[-1:]):
            worse = [*day.trench.events, event(reading, day.now + timedelta(minutes=1))]
            assert in_the_way(worse, day.now + timedelta(minutes=1)), reading
