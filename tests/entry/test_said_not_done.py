"""Nothing half said lets anybody in: on a trench where all else is told, each of these leaves entry shut.

The whole road is used: text, reading, record, entry. The trench and the crew are invented.
"""

import json
from datetime import UTC, datetime, timedelta

import pytest

from bot.clock import MessageClock
from bot.config.basis import Basis
from bot.config.people import People
from bot.message import Message, Person, Site
from bot.service import Service
from bot.storage.turns import Store

FITTER, SUPERVISOR = "+447700900123", "+447700900124"
SIZING = "T7 depth 1.6 width 0.9 length 6 firm clay"
DAY = {
    "units": "T7 all units set all at 40 bar",
    "gap below": "T7 dug to 1.6",
    "ladder": "T7 ladder in",
    "spoil": "T7 spoil back 1.5m",
    "ends": "T7 ends battered",
    "services": "T7 services located",
    "water": "T7 no water",
    "air test": "T7 air test ok",
    "inspection": "T7 inspected ok",
}
HALF_SAID = {
    "units": (
        "T7 all units set apart from one, rest at 40 bar",
        "T7 half the units set at 40 bar",
        "T7 most units set, 40 bar",
        "T7 all units nearly set at 40 bar",
        "T7 all units set at 40 bar yesterday",
        "T7 all units set for first 6m at 40 bar",
        "T7 all units set i think, 40 bar",
        "T7 all units set but two are loose",
        "T7 units all set, oh no number 4 isn't",
        "T7 all units set for first 6m at 40 bar",
        "T7 all units set i think, 40 bar",
        "T7 all units set at 40 bar but two are loose",
        "T7 units all set at 40 bar, oh no number 4 isn't",
    ),
    "gap below": (
        "T7 nearly dug to 1.6",
        "T7 will be dug to 1.6",
        "T7 dug to 1.6 tomorrow",
        "T7 digging to 1.6",
        "T7 sam says dug to 1.6",
    ),
    "ladder": (
        "T7 ladder on its way",
        "T7 putting ladder in",
        "T7 ladder in?",
        "T7 think the ladder's in",
        "T7 ladder in the van",
        "T7 ladder in, was it?",
        "T7 ladder's in, well it's in the van",
        "T7 ladder in the other hole",
        "T7 ladder was in but its gone",
        "T7 sam says ladder in",
        "T7 to do: ladder in",
    ),
    "spoil": (
        "T7 spoil going back 1.5",
        "T7 spoil to be moved back 1.5",
        "T7 moving spoil back 1.5",
        "T7 told him to move the spoil back",
        "T7 spoil moved back on one side",
    ),
    "ends": (
        "T7 battering the ends",
        "T7 ends being battered",
        "T7 one end battered",
        "T7 batter the ends",
        "T7 ends battered but slipped",
        "T7 ends battered on one side only",
        "T7 north end battered",
    ),
    "services": (
        "T7 services not marked",
        "T7 cat scan booked",
        "T7 locating services",
        "T7 services marked up on drawing only",
        "T7 all services located except the electric",
    ),
    "water": (
        "T7 hardly any water",
        "T7 no water yesterday",
        "T7 pumping out water",
        "T7 will be dry",
        "T7 keeps dry only with pump running",
        "T7 firm when dry",
    ),
    "air test": (
        "T7 air test due",
        "T7 air test failed",
        "T7 doing air test",
        "T7 air test done but no readings",
        "T7 air test done tuesday",
    ),
    "inspection": (
        "T7 inspected by Sam",
        "T7 getting it inspected",
        "T7 inspection ok?",
        "T7 last inspected monday",
        "T7 inspected T8 ok",
        "T7 checked the gauges",
        "T7 checked with sam",
        "T7 all checked bar the ends",
        "T7 inspected monday",
        "T7 sheet says inspection done but it hasnt been",
        "T7 inspection done. wrong trench sorry",
    ),
}


def entry_after(texts: dict[str, str], basis: Basis) -> dict[str, object]:
    people = People(
        [Person(FITTER, "Sam", "fitter", "Yard"), Person(SUPERVISOR, "Alex", "supervisor", "Yard")],
        [Site("Yard")],
    )
    store = Store(":memory:")
    service = Service(store, people, basis, MessageClock(), new_code=lambda: "7304")
    said = [(FITTER, SIZING)]
    said += [(SUPERVISOR if fact == "inspection" else FITTER, text) for fact, text in texts.items()]
    said.append((SUPERVISOR, "can they go in T7"))
    at = datetime(2026, 11, 25, 8, tzinfo=UTC)
    for number, (sender, text) in enumerate(said):
        at += timedelta(minutes=2)
        message = Message(
            id=str(number), channel="test", sender=sender, text=text, sent_at=at, received_at=at
        )
        with store.transaction():
            answered = service.answer(message)
    store.close()
    outcome: dict[str, object] = json.loads(answered.outcome)
    return outcome


def test_the_day_told_whole_leaves_nothing_in_the_way(basis: Basis) -> None:
    assert entry_after(DAY, basis)["entry"] == "may"


@pytest.mark.parametrize(
    ("fact", "text"), [(fact, text) for fact, texts in HALF_SAID.items() for text in texts]
)
def test_half_said_is_not_said(fact: str, text: str, basis: Basis) -> None:
    outcome = entry_after(DAY | {fact: text}, basis)
    assert outcome["entry"] == "no"
    assert fact in {missing["fact"] for missing in outcome["missing"]}  # type: ignore[attr-defined]
