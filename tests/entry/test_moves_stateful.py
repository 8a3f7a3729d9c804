"""Two trenches of one street, told in any order: units, people and runs move between them.

No leave outlives what it rested on; heads never go below nought; no record gains by another's text.
"""

from dataclasses import replace
from datetime import timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from trench_days import (
    ALLOW,
    INSPECTED,
    LADDER,
    SHIFT,
    SPOIL,
    Day,
    event,
    good_day,
    hazard,
    plan_for,
    tables,
)  # fmt: skip

from knowledge.entry.may_enter import allowance, entry
from knowledge.reading import Heads, Reading, UnitsMoved
from knowledge.record.runs import details_of_next
from knowledge.record.trench import Event, Trench, told

GOOD_DAY = good_day()
PLACES = st.sampled_from(("T7", "T8"))
COUNTS = st.integers(0, 4)
ROLES = st.sampled_from(("fitter", "supervisor", "office"))
GOOD = (LADDER, SPOIL, INSPECTED)
ENDING = ("carried", "changed", "damaged", "replaced")


class Street(RuleBasedStateMachine):
    """Tells moves of the job, and keeps by itself what must come of them."""

    @initialize()
    def begin(self) -> None:
        self.now = GOOD_DAY.now
        self.trenches = {
            "T7": GOOD_DAY.trench,
            "T8": replace(GOOD_DAY.trench, ref="T8"),
        }
        self.heads = {"T7": 0, "T8": 0}
        self.ended: dict[str, bool] = {"T7": True, "T8": True}  # no leave can be in force

    def tell(self, ref: str, each: Event) -> None:
        self.trenches[ref] = told(self.trenches[ref], each, tables)

    def say(self, ref: str, reading: Reading, role: str = "fitter", **more: object) -> Event:
        self.now += timedelta(minutes=1)
        each = event(reading, self.now, role, **more)  # type: ignore[arg-type]
        self.tell(ref, each)
        return each

    @rule(ref=PLACES)
    def allow(self, ref: str) -> None:
        clear = entry(self.trenches[ref], self.now, tables, SHIFT).entry == "may"
        self.say(ref, ALLOW, "supervisor", code_ok=True)
        self.ended[ref] = self.ended[ref] and not clear

    @rule(ref=PLACES, n=COUNTS, out=st.booleans())
    def count(self, ref: str, n: int, out: bool) -> None:
        heads = Heads(out=n) if out else Heads(in_=n)
        self.say(ref, Reading(purpose="report", heads=heads))
        self.heads[ref] = max(0, self.heads[ref] + (-n if out else n))

    @rule(ref=PLACES, how=st.sampled_from(ENDING), n=st.integers(1, 3))
    def move_units(self, ref: str, how: str, n: int) -> None:
        self.say(ref, Reading.model_validate({"purpose": "report", "moved": {"how": how, "n": n}}))
        self.ended[ref] = True

    @rule(ref=PLACES)
    def arrive(self, ref: str) -> None:
        before = self.trenches[ref].now.shores.standing
        self.say(ref, Reading(purpose="report", moved=UnitsMoved(how="arrived", n=2)))
        assert self.trenches[ref].now.shores.standing == before

    @rule(ref=PLACES, metres=st.sampled_from((3.0, 6.0)))
    def move_on(self, ref: str, metres: float) -> None:
        known = details_of_next(self.trenches[ref].now, metres)
        self.say(ref, Reading(purpose="moved", run_m=metres), plan=plan_for(), sized_on=known)
        now = self.trenches[ref].now
        assert (now.shores.standing, now.dug_m, dict(now.said)) == (0, None, {})
        self.ended[ref] = True

    @rule(ref=PLACES)
    def park(self, ref: str) -> None:
        self.say(ref, Reading(purpose="parked", guarded="fence and lights"))
        self.ended[ref] = True

    @rule(ref=PLACES, role=ROLES)
    def hand_over(self, ref: str, role: str) -> None:
        self.say(ref, Reading(purpose="handover", to="Alex"), role)
        self.say(ref, Reading(purpose="take"), "supervisor")

    @rule(ref=PLACES)
    def endanger(self, ref: str) -> None:
        self.say(ref, hazard("crack"))
        self.ended[ref] = True

    @rule(ref=PLACES, reading=st.sampled_from(GOOD), role=ROLES)
    def report(self, ref: str, reading: Reading, role: str) -> None:
        self.say(ref, reading, role)

    @rule(ref=PLACES)
    def mend(self, ref: str) -> None:
        """A whole good day again, told under this name: what went before is allowed anew or not at all."""
        day = Day(now=self.now)
        day.trench = self.trenches[ref]
        day.sized().works().tell(INSPECTED, "supervisor")
        self.trenches[ref], self.now = day.trench, day.now

    @rule(ref=PLACES, reading=st.sampled_from(GOOD))
    def wrong_hole(self, ref: str, reading: Reading) -> None:
        """Told of one trench, and then said to be of the other."""
        other = "T8" if ref == "T7" else "T7"
        kept = self.trenches[ref].now
        first = self.say(ref, reading, "supervisor")
        self.say(ref, Reading(purpose="report", not_at=ref), withdraws=(first.id,))
        self.tell(other, replace(first, id=f"{first.id}/moved", from_ref=ref, retold=True, came=None))
        after = self.trenches[ref].now
        assert {name: said.event for name, said in after.said.items()} == {
            name: said.event for name, said in kept.said.items()
        }
        assert after.hazards == kept.hazards and after.inspected == kept.inspected

    @rule(minutes=st.sampled_from((5, 45, 241)))
    def wait(self, minutes: int) -> None:
        self.now += timedelta(minutes=minutes)

    @invariant()
    def as_counted(self) -> None:
        for ref, trench in self.trenches.items():
            assert trench.now.heads == self.heads[ref] >= 0
            assert sum(trench.now.shores.counts) >= 0
            if self.ended[ref]:
                assert allowance(trench, self.now, tables, SHIFT) is None

    @invariant()
    def same_when_worked_again(self) -> None:
        for trench in self.trenches.values():
            again = Trench(trench.ref, trench.site, trench.rulebook, trench.kit)
            for each in sorted(trench.events, key=lambda one: one.came or 0):
                again = told(again, each, tables)
            assert again.now == trench.now


TestStreet = Street.TestCase
TestStreet.settings = settings(max_examples=40, stateful_step_count=30, deadline=None)
