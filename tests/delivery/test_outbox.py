"""Texts waiting to go, on a real database: order, attempts, another try, giving up, receipts, erasure.

No published source says how an outbox behaves; what is checked is what the service promises (practice).
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from channel_samples import channel
from hypothesis import given
from hypothesis import strategies as st

from bot.channels.base import Receipt, Sent
from bot.delivery import outbox
from bot.delivery.outbox import Outbox, QueuedText
from bot.message import Alert, Reply
from bot.storage.turns import Store

NOW = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
SAM, KIM = "+447700900123", "+447700900124"
SMS = channel("kannel")
LATER = Sent(ok=False, why="503")
NEVER = Sent(ok=False, permanent=True, why="400: no such number")


@pytest.fixture
def store() -> Iterator[Store]:
    store = Store(":memory:")
    yield store
    store.close()


@pytest.fixture
def box(store: Store) -> Outbox:
    return Outbox(store.db)


def _text(key: str, to: str = SAM, rank: int = outbox.REPLY) -> QueuedText:
    return QueuedText(key, "kannel", Reply(to=to, text=f"text {key}"), rank)


def _keys(box: Outbox, at: datetime = NOW, most: int = 20) -> list[str]:
    return [going.key for going in box.take(at, most)]


def test_a_turn_makes_its_texts() -> None:
    alerts = [
        (Alert(to=KIM, text="Sam: crack in T4.", why="crack", urgent=True), SMS),
        (Alert(to=KIM, text="T4 lapses.", why="lapse"), SMS),
    ]
    made = outbox.rows("17", Reply(to=SAM, text="Out. Ring."), SMS, alerts)
    assert [(text.key, text.reply.to, text.rank, text.why) for text in made] == [
        ("17-1", KIM, outbox.URGENT, "crack"),
        ("17-2", KIM, outbox.ALERT, "lapse"),
        ("17-3", SAM, outbox.REPLY, ""),
    ]


def test_a_reply_that_went_back_at_once_is_no_text_to_send() -> None:
    assert outbox.rows("17", Reply(to=SAM, text="Out."), channel("json"), []) == []
    assert outbox.rows("17", Reply(to=SAM, text="Out."), channel("kannel", send_url=""), []) == []
    assert outbox.rows("17", Reply(to=SAM, text=""), SMS, []) == []
    assert outbox.rows("17", None, SMS, []) == []


def test_a_long_reply_is_several_texts_in_order(box: Outbox) -> None:
    made = outbox.rows("17", Reply(to=SAM, text="level " * 300), SMS, [])
    assert len(made) == 2
    box.put(made, NOW)
    (first,) = box.take(NOW)
    assert box.take(NOW) == []  # the second waits for the first
    box.ended(first, LATER, NOW, 0)
    assert box.take(NOW) == []  # and for its next try
    (first,) = box.take(NOW + timedelta(minutes=1))
    box.ended(first, Sent(ok=True), NOW, 0)
    assert _keys(box) == ["17-2"]


def test_alerts_go_ahead_of_chatter(box: Outbox) -> None:
    box.put([_text(f"{n}-1", f"+4477009001{n:02}") for n in range(30)], NOW)
    box.put([_text("90-1", KIM, outbox.ALERT), _text("91-1", SAM, outbox.URGENT)], NOW)
    assert _keys(box, most=3) == ["91-1", "90-1", "0-1"]


def test_an_urgent_alert_does_not_wait_for_a_stuck_reply(box: Outbox) -> None:
    box.put([_text("1-1"), _text("2-1", rank=outbox.URGENT), _text("3-1")], NOW)
    assert _keys(box) == ["2-1", "1-1"]
    assert _keys(box) == []  # replies to one number go one at a time


def test_the_same_turn_again_sends_nothing_again(box: Outbox) -> None:
    box.put([_text("17-1")], NOW)
    (going,) = box.take(NOW)
    box.ended(going, Sent(ok=True), NOW, 0)
    box.put([_text("17-1")], NOW)
    assert _keys(box, NOW + timedelta(days=1)) == []


def test_an_attempt_is_on_record_before_its_outcome(store: Store, box: Outbox) -> None:
    box.put([_text("17-1")], NOW)
    (going,) = box.take(NOW)
    attempts = "SELECT number, began_at, ended_at, ok, problem FROM attempts ORDER BY number"
    began = "2026-11-25T08:10:00.000000Z"
    assert store.db.execute(attempts).fetchall() == [(1, began, None, None, None)]
    box.ended(going, LATER, NOW + timedelta(seconds=2), 0)
    (again,) = box.take(NOW + timedelta(minutes=1))
    box.ended(again, Sent(ok=True), NOW + timedelta(minutes=1), 0)
    assert [(row[0], *row[3:]) for row in store.db.execute(attempts).fetchall()] == [
        (1, 0, "503"),
        (2, 1, ""),
    ]


def test_what_was_going_at_a_crash_goes_again(box: Outbox) -> None:
    box.put([_text("17-1")], NOW)
    assert _keys(box) == ["17-1"]
    assert _keys(box, NOW + timedelta(hours=1)) == []
    box.recover()
    (going,) = box.take(NOW)
    assert going.tries == 2


def test_a_put_that_is_rolled_back_sends_nothing(store: Store, box: Outbox) -> None:
    with pytest.raises(RuntimeError), store.transaction():
        box.put([_text("17-1")], NOW)
        raise RuntimeError("the turn could not be written")
    assert _keys(box) == []


def test_a_permanent_failure_is_shown_and_not_tried_again(box: Outbox) -> None:
    box.put([_text("17-1")], NOW)
    (going,) = box.take(NOW)
    box.ended(going, NEVER, NOW, 0)
    assert _keys(box, NOW + timedelta(days=1)) == []
    (failed,) = box.failed()
    assert (failed["key"], failed["recipient"], failed["problem"]) == ("17-1", SAM, "400: no such number")


def test_giving_up_after_a_day(store: Store, box: Outbox) -> None:
    box.put([_text("17-1")], NOW)
    at, tries = NOW, 0
    while box.counts() != {"failed": 1}:
        ((due,),) = store.db.execute("SELECT due_at FROM outbox WHERE state = 'waiting'").fetchall()
        at = datetime.fromisoformat(due)
        (going,) = box.take(at)
        box.ended(going, LATER, at, 1)
        tries += 1
    assert timedelta(hours=24) <= at - NOW <= timedelta(hours=24, minutes=15)
    # Doubling from 4 s to 15 min: 8 waits below it (4 + 8 + .. + 512 = 1020 s), then 95 of 900 s; by hand.
    assert tries == 1 + 8 + 95


@given(st.integers(1, 10_000), st.floats(0, 1))
def test_waits_grow_and_are_spread(tries: int, jitter: float) -> None:
    longest = outbox.wait_s(tries, 1)
    assert longest / 2 <= outbox.wait_s(tries, jitter) <= longest <= 900
    assert longest <= outbox.wait_s(tries + 1, 1)
    assert (outbox.wait_s(1, 1), outbox.wait_s(2, 1), outbox.wait_s(3, 0)) == (4, 8, 8)


def test_the_provider_says_how_long_to_wait(box: Outbox) -> None:
    box.put([_text("17-1")], NOW)
    (going,) = box.take(NOW)
    box.ended(going, Sent(ok=False, why="429", after_s=120), NOW, 0)
    assert _keys(box, NOW + timedelta(seconds=119)) == []
    assert _keys(box, NOW + timedelta(seconds=120)) == ["17-1"]


def test_receipts(box: Outbox) -> None:
    box.put([_text("1-1"), _text("2-1", KIM)], NOW)
    one, two = box.take(NOW)
    box.ended(one, Sent(ok=True, ref="wamid.1"), NOW, 0)
    # This receipt is quicker than the answer to its own request.
    assert box.receive("kannel", Receipt("2-1", delivered=True), NOW)
    box.ended(two, Sent(ok=True), NOW, 0)
    assert box.counts() == {"sent": 1, "delivered": 1}
    assert not box.receive("telegram", Receipt("wamid.1", delivered=True), NOW)
    assert not box.receive("kannel", Receipt("wamid.9", delivered=True), NOW)
    assert box.receive("kannel", Receipt("wamid.1", delivered=False, why="switched off"), NOW)
    assert [row["problem"] for row in box.failed()] == ["switched off"]


def test_a_receipt_quicker_than_the_name_it_bears_is_not_lost(box: Outbox) -> None:
    box.put([_text("1-1"), _text("2-1", KIM)], NOW)
    one, two = box.take(NOW)
    assert not box.receive("kannel", Receipt("wamid.1", delivered=True), NOW)
    assert not box.receive("kannel", Receipt("wamid.2", delivered=False, why="switched off"), NOW)
    box.ended(one, Sent(ok=True, ref="wamid.1"), NOW, 0)
    box.ended(two, Sent(ok=True, ref="wamid.2"), NOW, 0)
    assert box.counts() == {"delivered": 1, "failed": 1}


def test_a_clock_set_back_holds_no_text_up(box: Outbox) -> None:
    box.put([_text("1-1"), _text("2-1", KIM)], NOW)
    one, two = box.take(NOW)
    box.ended(one, LATER, NOW, 1)
    box.ended(two, Sent(ok=False, why="429", after_s=86_400), NOW, 1)
    assert _keys(box, NOW - timedelta(hours=3)) == ["1-1", "2-1"]


def test_erasing_takes_words_and_number(store: Store, box: Outbox) -> None:
    box.put([_text("1-1"), _text("2-1"), _text("3-1", KIM)], NOW)
    (one, _) = box.take(NOW)
    box.ended(one, Sent(ok=True), NOW, 0)
    box.erase(SAM)
    assert _keys(box, NOW + timedelta(days=1)) == []
    kept = store.db.execute("SELECT text, recipient FROM outbox ORDER BY place").fetchall()
    assert kept == [("", ""), ("", ""), ("text 3-1", KIM)]
