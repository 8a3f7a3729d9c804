"""Refused texts stay before the office: over a restart, once for a flood, and not for ever (practice)."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from bot.erasure import erase_before, erase_person
from bot.storage import refused
from bot.storage.refused import MOST, Refusals, RefusedText
from bot.storage.turns import Store

NOW = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
SAM, KIM = "+447700900123", "+447700900124"


@pytest.fixture
def store() -> Iterator[Store]:
    store = Store(":memory:")
    yield store
    store.close()


def one(sender: str = SAM, why: str = "too many texts", at: datetime = NOW) -> RefusedText:
    return RefusedText("kannel", sender, why, at)


def kept(store: Store, *ones: RefusedText, now: datetime = NOW) -> list[RefusedText]:
    with store.transaction():
        refused.write(store.db, ones, now)
    return refused.latest(store.db, ())


def test_a_flood_makes_one_row(store: Store) -> None:
    flood = Refusals()
    for n in range(1000):
        flood.add(one(at=NOW + timedelta(seconds=n)))
    assert len(flood.unwritten()) == 1
    kept(store, *flood.unwritten())
    last = NOW + timedelta(hours=1)
    assert kept(store, one(at=last)) == [RefusedText("kannel", SAM, "too many texts", last, 1001)]


def test_what_comes_while_others_are_written_is_not_lost(store: Store) -> None:
    refusals = Refusals()
    refusals.add(one())
    writing = refusals.unwritten()
    refusals.add(one())
    refusals.add(one(KIM))
    refusals.written(writing)
    assert [(each.sender, each.times) for each in refusals.unwritten()] == [(SAM, 1), (KIM, 1)]
    shown = refused.latest(store.db, refusals.unwritten())
    assert [each.sender for each in shown] == [KIM, SAM]


def test_the_table_stays_small_and_young(store: Store) -> None:
    many = [one(f"+4477{n:08}", at=NOW + timedelta(seconds=n)) for n in range(MOST + 50)]
    assert len(kept(store, *many)) == MOST
    assert kept(store, *many)[0].sender == many[-1].sender
    a_week_on = NOW + timedelta(days=7, hours=1)
    assert kept(store, one(KIM, at=a_week_on), now=a_week_on) == [one(KIM, at=a_week_on)]


def test_who_was_rung_or_is_erased_stands_there_no_more(store: Store) -> None:
    kept(store, one(), one(KIM), one(why="OperationalError: database or disk is full"))
    with store.transaction():
        erase_person(store.db, SAM)
    assert [each.sender for each in refused.latest(store.db, ())] == [KIM]
    with store.transaction():
        erase_before(store.db, NOW + timedelta(days=1))
    assert refused.latest(store.db, ()) == []
