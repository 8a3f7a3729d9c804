"""Nobody can change the record of a trench behind the log's back and have people let in on it."""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from complete_day import PEOPLE
from pydantic import TypeAdapter
from talk import Talk

from bot.config.basis import Basis
from bot.erasure import erase_person
from bot.storage import log, sealed
from bot.storage.records import Records
from knowledge.record.trench import Event
from knowledge.tables.load import load


@pytest.fixture
def day(basis: Basis) -> Iterator[Talk]:
    talk = Talk(basis).day()
    talk.say("R", "T8 depth 1.6 width 0.9 length 6 firm clay dry")
    talk.say("S", "stop work T7")
    talk.say("F", "T7 side slipped")
    yield talk
    talk.close()


def events(talk: Talk, ref: str = "T7") -> list[dict[str, object]]:
    (text,) = talk.store.db.execute("SELECT events FROM trenches WHERE ref = ?", (ref,)).fetchone()
    told: list[dict[str, object]] = json.loads(text)
    return told


def test_what_is_written_event_by_event_is_the_record_and_its_seal_written_whole(day: Talk) -> None:
    for ref in ("T7", "T8"):
        (text,) = day.store.db.execute("SELECT events FROM trenches WHERE ref = ?", (ref,)).fetchone()
        told = json.loads(text)
        with day.store.transaction():
            trench = Records(day.store.db, load()).find("bar", ref)
        assert trench is not None
        assert TypeAdapter(tuple[Event, ...]).dump_json(trench.events, exclude_defaults=True).decode() == text
        last = [row[2:] for row in _seals(day) if row[1] == ref][-1]
        assert last == [trench.closed, sealed.seal(told)]


def _seals(talk: Talk) -> list[list[Any]]:
    rows = talk.store.db.execute("SELECT records FROM turns ORDER BY exchange")
    return [row for (records,) in rows for row in json.loads(records)]


def put(talk: Talk, told: list[dict[str, object]]) -> None:
    talk.store.db.execute("UPDATE trenches SET events = ? WHERE ref = 'T7'", (json.dumps(told),))


def broken(talk: Talk) -> str:
    chain = log.verify(talk.store.db)
    return chain.why if chain.broken_at is not None else ""


def test_a_day_as_it_was_told_is_whole(day: Talk) -> None:
    assert broken(day) == ""
    day.say("F", "T8 is T9")  # one name for another
    day.say("F", "close T9")
    assert broken(day) == ""


def test_a_hazard_that_is_taken_out_is_missed(day: Talk) -> None:
    told = events(day)
    put(day, told[:-1])
    assert broken(day) == "the record of T7 was changed"


@pytest.mark.parametrize(
    "change",
    [
        lambda event: event["reading"].pop("hazards"),
        lambda event: event.update(at="2027-01-04T07:00:00Z"),
        lambda event: event.update(role="supervisor"),
        lambda event: event.update(code_ok=True),
        lambda event: event["reading"].update(done=["inspection"]),
        lambda event: event.update(seen=["m1"]),
    ],
)
def test_what_an_event_says_cannot_be_changed(day: Talk, change: object) -> None:
    told = events(day)
    change(told[-1])  # type: ignore[operator]
    put(day, told)
    assert broken(day) == "the record of T7 was changed"


@pytest.mark.parametrize(
    ("statement", "why"),
    [
        ("DELETE FROM trenches WHERE ref = 'T7'", "the record of T7 is gone"),
        ("UPDATE trenches SET ref = 'T77' WHERE ref = 'T7'", "the record of T7 is gone"),
        ("UPDATE trenches SET exchange = 2 WHERE ref = 'T7'", "the record of T7 was changed"),
        ("UPDATE trenches SET events = 'no JSON' WHERE ref = 'T7'", "a trench record cannot be read"),
        ("INSERT INTO trenches (site, ref, rulebook, kit, events, open, exchange)"
         " VALUES ('bar', 'T99', 'uk', 'light', '[]', 1, 1)", "no exchange made the record of T99"),
    ],
)  # fmt: skip
def test_nor_can_a_record_as_a_whole(day: Talk, statement: str, why: str) -> None:
    day.store.db.execute(statement)
    assert broken(day).startswith(why)


def test_nor_the_digest_on_the_log(day: Talk) -> None:
    day.store.db.execute("DROP TRIGGER turns_hold")
    put(day, events(day)[:-1])
    day.store.db.execute("UPDATE turns SET records = '[]' WHERE exchange = (SELECT max(exchange) FROM turns)")
    assert broken(day) == "when, where or how it was answered was changed"


def test_erased_words_leave_it_whole(day: Talk) -> None:
    day.say("F", "T7 the blue one wobbled off to tea")
    with day.store.transaction():
        assert erase_person(day.store.db, PEOPLE["F"][0]) > 5
    assert PEOPLE["F"][0] not in json.dumps(events(day))
    assert broken(day) == ""
    day.say("R", "T7 ladder in")
    assert broken(day) == "" and PEOPLE["F"][0] not in json.dumps(events(day))


def test_the_digest_of_a_record_is_that_of_its_events_as_they_stand_on_the_disk(day: Talk) -> None:
    """It is made event by event as they come, and checked from the whole."""
    for row in day.store.db.query("SELECT site, ref, events FROM trenches"):
        events = json.loads(row["events"])
        lines = [json.dumps(event, ensure_ascii=False) for event in events]
        assert sealed.sealed(row["site"], row["ref"], False, lines)[3] == sealed.seal(events)
