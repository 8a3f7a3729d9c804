"""Pieces of long texts, texts that the network delivers twice, and floods (practice, no source)."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest

from bot.channels.base import SmsPart
from bot.message import Message, Reply, Turn
from bot.storage.arrivals import Arrivals
from bot.storage.turns import Store
from bot.web.rate_limit import Buckets, RateLimit
from knowledge.outcome import Unclear
from knowledge.reading import Reading

NOW = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
SAM, KIM = "+447700900123", "+447700900124"
TEXTS = {1: "depth 1.6 wid", 2: "th 0.9 soil fi", 3: "rm clay"}


@pytest.fixture
def store() -> Iterator[Store]:
    store = Store(":memory:")
    yield store
    store.close()


def _message(text: str, id_: str, sender: str = SAM, at: datetime = NOW) -> Message:
    return Message(id=id_, channel="kannel", sender=sender, text=text, sent_at=at, received_at=at)


def _piece(number: int, sender: str = SAM, at: datetime = NOW, ref: int = 204, total: int = 3) -> SmsPart:
    return SmsPart(_message(TEXTS[number], f"{sender}-{ref}-{number}", sender, at), ref, total, number)


@pytest.mark.parametrize("order", list(permutations((1, 2, 3))))
def test_pieces_become_one_message_in_any_order(store: Store, order: tuple[int, ...]) -> None:
    arrivals = Arrivals(store.db)
    first, second, last = (arrivals.piece(_piece(number)) for number in order)
    assert first is True
    assert second is False  # said once
    assert last == _message("depth 1.6 width 0.9 soil firm clay", f"{SAM}-204-1")


def test_a_piece_that_comes_again_changes_nothing(store: Store) -> None:
    arrivals = Arrivals(store.db)
    arrivals.piece(_piece(1))
    assert arrivals.piece(_piece(1)) is False
    arrivals.piece(_piece(2))
    whole = arrivals.piece(_piece(3))
    assert isinstance(whole, Message)
    assert arrivals.piece(_piece(2)) == whole
    assert store.db.execute("SELECT count(*) FROM pieces").fetchone() == (3,)


@pytest.mark.parametrize(
    "other",
    [
        _piece(2, sender=KIM, total=2),
        _piece(2, ref=205, total=2),
        _piece(2, total=3),
        _piece(2, at=NOW + timedelta(minutes=11), total=2),  # a phone begins its references again
    ],
)
def test_pieces_of_two_texts_are_never_joined(store: Store, other: SmsPart) -> None:
    arrivals = Arrivals(store.db)
    assert arrivals.piece(_piece(1, total=2)) is True
    assert arrivals.piece(other) is True


def test_a_reference_used_again_for_a_shorter_text_joins_nothing(store: Store) -> None:
    arrivals = Arrivals(store.db)
    arrivals.piece(_piece(1, total=3))
    assert arrivals.piece(_piece(2, total=2)) is True


def test_erasing_forgets_the_pieces(store: Store) -> None:
    arrivals = Arrivals(store.db)
    arrivals.piece(_piece(1))
    arrivals.piece(_piece(1, sender=KIM))
    arrivals.erase(SAM)
    assert store.db.execute("SELECT sender FROM pieces").fetchall() == [(KIM,)]


def test_a_piece_from_before_the_clock_was_set_back_is_not_joined(store: Store) -> None:
    arrivals = Arrivals(store.db)
    arrivals.piece(_piece(1))
    said = arrivals.piece(_piece(2, at=NOW - timedelta(days=1)))
    assert said is True


def test_the_networks_repeat_is_known(store: Store) -> None:
    """Kannel gives a new id to a text that the network delivers twice (measured with 1.4.5)."""
    arrivals = Arrivals(store.db)
    turn = Turn(
        message=_message("bay 3 wet", "a"),
        reading=Reading(),
        outcome=Unclear(why="test"),
        reply=Reply(to=SAM, text="Out."),
    )
    with store.transaction():
        store.put(turn, None, None, NOW, 0)
    soon, late = NOW + timedelta(seconds=29), NOW + timedelta(seconds=31)
    assert arrivals.repeat_of(_message("bay 3 wet", "b", at=soon), 30) == "a"
    assert arrivals.repeat_of(_message("bay 3 wet", "b", at=late), 30) is None
    assert arrivals.repeat_of(_message("bay 3 dry", "b", at=soon), 30) is None
    assert arrivals.repeat_of(_message("bay 3 wet", "b", KIM, at=soon), 30) is None
    assert arrivals.repeat_of(_message("bay 3 wet", "b", at=soon), 0) is None
    # The clock was set back by a day: what stands in its future is no repeat.
    assert arrivals.repeat_of(_message("bay 3 wet", "b", at=NOW - timedelta(days=1)), 30) is None


def test_who_asks_again_is_answered_each_time(store: Store) -> None:
    """A lost reply cannot be seen from here: a second "?" right after the first is no repeat."""
    turn = Turn(
        message=_message("?", "a"),
        reading=Reading(again=True),
        outcome=Unclear(why="test"),
        reply=Reply(to=SAM, text="Out."),
    )
    with store.transaction():
        store.put(turn, None, None, NOW, 0)
    assert Arrivals(store.db).repeat_of(_message("?", "b"), 30) is None


def test_a_bucket_empties_and_fills() -> None:
    buckets = Buckets(RateLimit(burst=3, per_minute=60))
    assert [buckets.takes(SAM, 100.0) for _ in range(4)] == [True, True, True, False]
    assert buckets.takes(KIM, 100.0)  # each sender has a bucket of their own
    assert not buckets.takes(SAM, 100.9)
    assert buckets.takes(SAM, 101.1)  # one a second
    assert not buckets.takes(SAM, 101.2)
    assert [buckets.takes(SAM, 10_000.0) for _ in range(4)] == [True, True, True, False]


def test_a_clock_set_back_fills_no_bucket() -> None:
    buckets = Buckets(RateLimit(burst=1, per_minute=60))
    assert buckets.takes(SAM, 100.0)
    assert not buckets.takes(SAM, 50.0)
    assert not buckets.takes(SAM, 51.5)
    assert buckets.takes(SAM, 101.0)


def test_a_flood_of_senders_does_not_fill_the_memory() -> None:
    buckets = Buckets(RateLimit(burst=1, per_minute=1), most_kept=3)
    assert all(buckets.takes(str(n), 0.0) for n in range(100))
    assert not buckets.takes("99", 0.0)
    assert buckets.takes("0", 0.0)  # forgotten
