"""A week lived through by text: a crew of four and a supervisor with six holes, from Monday to Friday.

Honest texts only, as crews write them. What is counted is what the service costs them: its questions.
"""

import json
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from bot.clock import MessageClock
from bot.config.basis import Basis
from bot.config.people import People, PeopleFile
from bot.message import Message
from bot.service import Service
from bot.storage.records import Records
from bot.storage.turns import Store
from knowledge.record.trench import Trench

MONDAY = datetime(2027, 1, 4, 7, 10, tzinfo=UTC)
CODE = "730412"
CREW = {"Sam": "fitter", "Robin": "fitter", "Kit": "fitter", "Jo": "fitter", "Alex": "supervisor"}
NUMBERS = {name: f"+4477009001{at:02}" for at, name in enumerate(CREW)}
HOLES = {"T1": "Sam", "T2": "Robin", "T3": "Kit", "T4": "Jo", "T5": "Sam", "T6": "Robin"}
RUNS = ("T1", "T2")  # these advance every day
MOST_QUESTIONS = 2  # a day and hole
SIZE = "{ref} depth 1.2 width 0.6 length 4 m stiff clay dry"
MORNING = (
    "{ref} services located",
    "{ref} all units set all at 40 bar",
    "{ref} dug to 1.2",
    "{ref} ladder in",
    "{ref} spoil back 1.5m",
    "{ref} ends battered",
    "{ref} no water",
    "{ref} air test ok",
)

# What is texted every day is never texted twice in one way.
WAYS = {
    "moved": ("moved on 4 m", "another 4 m open", "gone on 4m", "next 4m started"),
    "filled": ("run {n} backfilled", "run {n} filled in", "run {n} filled back in", "backfilled run {n}"),
    "open": (
        "left open till tue, fenced, lit",
        "open till wed, fenced and lit",
        "leaving it open till thu, fenced and lit",
        "left open till fri, fenced, lit",
    ),
    "in": ("2 in", "two men in", "2 going in", "two in", "2 lads in now"),
    "out": ("all out 2", "both out 2", "all 2 out", "2 out, all out", "all out thats 2"),
}


class Street:
    """The service with its record in memory, and what it asked."""

    def __init__(self, basis: Basis) -> None:
        rows = [
            {"number": NUMBERS[name], "name": name, "role": role, "site": "Mill Lane"}
            for name, role in CREW.items()
        ]
        people = People.of(PeopleFile.model_validate({"person": rows}))
        self.store, self.basis = Store(":memory:"), basis
        self.service = Service(self.store, people, basis, MessageClock(), new_code=lambda: CODE)
        self.at, self.told = MONDAY, 0
        self.last: dict[str, Any] = {}
        self.questions: Counter[tuple[int, str]] = Counter()

    def say(self, name: str, text: str) -> str:
        self.at += timedelta(minutes=1)
        self.told += 1
        message = Message(
            id=f"m{self.told}", channel="chat", sender=NUMBERS[name], text=text, sent_at=self.at,
            received_at=self.at,
        )  # fmt: skip
        with self.store.transaction():
            answered = self.service.answer(message)
        outcome = self.last = json.loads(answered.outcome)
        asks = outcome["kind"] == "ask" or outcome.get("proposed") or "IGNORE" in answered.reply
        if asks:
            ref = next((ref for ref in HOLES if ref in text), "none")
            self.questions[self.at.day, ref] += 1
        assert outcome["kind"] != "failed", text
        return answered.reply

    def day(self, number: int, hour: int) -> None:
        self.at = (MONDAY + timedelta(days=number)).replace(hour=hour, minute=0)

    def trench(self, ref: str) -> Trench:
        with self.store.transaction():
            found = Records(self.store.db, self.basis.tables).find("Mill Lane", ref)
        assert found is not None
        return found


def let_in(street: Street, ref: str, who: str, day: int) -> None:
    """Inspected, allowed, in and out again."""
    street.say("Alex", f"{ref} inspected ok")
    street.say("Alex", f"allow {ref}")
    street.say("Alex", f"{ref} code {CODE}")
    assert street.last["allowed_by"] == "Alex"
    assert street.say(who, f"{ref} {WAYS['in'][day]}") == f"{ref}: people in: 2."
    assert street.say(who, f"{ref} {WAYS['out'][day]}") == f"{ref}: people in: none."


@pytest.fixture(scope="module")
def lived() -> Street:
    street = Street(Basis.load())
    for number in range(5):
        street.day(number, 7)
        for ref, who in HOLES.items():
            if number == 0:
                street.say(who, SIZE.format(ref=ref))
            for text in MORNING:
                street.say(who, text.format(ref=ref))
        street.day(number, 10)
        for ref, who in HOLES.items():
            let_in(street, ref, who, number)
        street.day(number, 14)
        if number == 2:
            street.say("Kit", "1 unit out of T3 into T4")
            street.say("Kit", "T3 all units set all at 40 bar")
            street.say("Robin", "T6 water seeping in")
        if number == 3:
            street.say("Sam", "T5 to Kit till 7")
            street.say("Kit", "TAKE T5")
            street.say("Sam", "T1 is outside 22 Larch St")
        for ref in RUNS:
            if number < 4:
                street.say(HOLES[ref], f"{ref} {WAYS['moved'][number]}")
                street.say(HOLES[ref], f"{ref} {WAYS['filled'][number].format(n=number + 1)}")
        street.day(number, 16)
        for ref, who in HOLES.items():
            if number < 4:
                street.say(who, f"{ref} {WAYS['open'][number]}")
    street.day(4, 15)
    for ref, who in HOLES.items():
        street.say("Alex", f"STRIP {ref}")
        street.say(who, f"{ref} all units out")
        street.say(who, f"{ref} backfilled")
        street.say(who, f"close {ref}")
    return street


def test_honest_crews_are_asked_at_most_twice_a_day_and_hole(lived: Street) -> None:
    assert lived.told > 350
    assert [one for one in lived.questions.items() if one[1] > MOST_QUESTIONS] == []


def test_the_week_ends_with_every_hole_closed_and_nobody_in(lived: Street) -> None:
    trenches = [lived.trench(ref) for ref in HOLES]
    assert [(trench.ref, trench.closed, trench.now.heads) for trench in trenches] == [
        (ref, True, 0) for ref in HOLES
    ]


def test_the_runs_of_a_week_follow_one_another(lived: Street) -> None:
    for ref in RUNS:
        runs = lived.trench(ref).now.runs
        assert [(run.number, run.start_m, run.end_m) for run in runs] == [
            (number, 4.0 * (number - 1), 4.0 * number) for number in range(1, 6)
        ]
        assert all(run.filled for run in runs[:-1])
