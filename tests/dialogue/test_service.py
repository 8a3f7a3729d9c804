"""One message with its record around it: alerts, pieces of texts, repeats, errors of ours, a restart."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.channels.base import Channel, SmsPart
from bot.channels.json import Json
from bot.channels.kannel import Kannel
from bot.clock import MessageClock
from bot.commands.serve import PEOPLE
from bot.config.basis import Basis
from bot.config.people import People
from bot.message import Message
from bot.service import Service
from bot.storage import log
from bot.storage.log import LogFilter
from bot.storage.records import Records
from bot.storage.turns import Answered, Store

SAM, ALEX, ROBIN = "+447700900123", "+447700900124", "+447700900125"
AT = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
SIZE = "T1 depth 1.6 width 0.9 length 6 soil firm clay dry"
KANNEL: Channel = Kannel(secrets="key", send_url="http://127.0.0.1:1/sendsms", sender="70011")  # type: ignore[arg-type]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "log.sqlite")
    yield opened
    opened.close()


def serving(store: Store, basis: Basis) -> Service:
    channels = {"json": Json(), "kannel": KANNEL}
    return Service(store, People.load(PEOPLE), basis, MessageClock(), channels)


def message(text: str, minute: int = 0, id: str = "", sender: str = SAM, channel: str = "kannel") -> Message:
    at = AT + timedelta(minutes=minute)
    return Message(
        id=id or f"{sender}-{minute}", channel=channel, sender=sender, text=text, sent_at=at, received_at=at
    )


def answer(store: Store, service: Service, said: Message) -> Answered:
    with store.transaction():
        return service.answer(said)


def waiting(store: Store) -> list[tuple[str, str, int]]:
    return store.db.execute("SELECT channel, recipient, rank FROM outbox ORDER BY rank, place").fetchall()


def test_a_hazard_goes_to_the_supervisor_ahead_of_the_reply(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    answer(store, service, message(SIZE))
    store.db.execute("DELETE FROM outbox")
    answer(store, service, message("T1 water coming in", 1))
    sent = waiting(store)
    assert sent[0] == ("kannel", ALEX, 0)
    assert sent[-1] == ("kannel", SAM, 2)


def test_an_alert_goes_by_the_channel_that_can_send_whatever_the_message_came_by(
    store: Store, basis: Basis
) -> None:
    service = serving(store, basis)
    answer(store, service, message(SIZE, channel="json"))
    answer(store, service, message("T1 water coming in", 1, channel="json"))
    assert waiting(store) == [("kannel", ALEX, 0)]


def test_what_the_network_delivers_twice_under_two_ids_is_one_exchange(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    first = answer(store, service, message(SIZE, id="a"))
    assert answer(store, service, message(SIZE, id="b")) == first
    later = answer(store, service, message(SIZE, minute=5, id="c"))
    assert later.exchange != first.exchange
    assert len(log.page(store.db, LogFilter())) == 2


def test_a_picture_without_words_is_answered_plainly(store: Store, basis: Basis) -> None:
    answered = answer(store, serving(store, basis), message(""))
    assert answered.reply.startswith("Can't read photos or voice notes")


@pytest.mark.parametrize("said", ["T1 cracks in the face", SIZE, "T1 depth 1.6", "blah blah"])
def test_a_picture_with_words_is_answered_by_its_words_and_said_not_to_be_seen(
    store: Store, basis: Basis, said: str
) -> None:
    service = serving(store, basis)
    plain = answer(store, service, message(said, id="a"))
    pictured = answer(store, service, message(said, 5, id="b").model_copy(update={"attached": True}))
    assert pictured.reading == plain.reading
    assert pictured.reply.endswith("Only your words were read: no photos or files here.")


def test_a_picture_leaves_the_question_open(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    answer(store, service, message("T1 depth 1.6 width 0.9 clay"))
    answer(store, service, message("", 1).model_copy(update={"attached": True}))
    assert '"kind":"sized"' in answer(store, service, message("firm", 2)).outcome


def test_a_text_in_pieces_is_answered_once_and_whole(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    halves = [message("T1 depth 1.6 width 0.9 ", id="p1"), message("length 6 soil firm clay dry", id="p2")]
    pieces = [SmsPart(half, ref=7, total=2, number=n) for n, half in enumerate(halves, 1)]
    with store.transaction():
        part = service.take_piece(pieces[1])
        again = service.take_piece(pieces[1])
        whole = service.take_piece(pieces[0])
        repeated = service.take_piece(pieces[0])
    assert '"kind":"unclear"' in part.outcome and again == part
    assert part.reply.startswith("Only part 2 of 2 of your text came")
    assert '"kind":"sized"' in whole.outcome and repeated == whole
    assert [row["text"] for row in log.page(store.db, LogFilter())] == [
        "T1 depth 1.6 width 0.9 length 6 soil firm clay dry",
        "length 6 soil firm clay dry",
    ]


def test_danger_in_a_piece_counts_though_the_rest_never_comes(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    answer(store, service, message(SIZE))
    store.db.execute("DELETE FROM outbox")
    halves = [message("T1 all quiet till now, then ", id="p1"), message("the side slipped and so ", id="p2")]
    with store.transaction():
        for n, half in enumerate(halves, 1):
            told = service.take_piece(SmsPart(half, ref=7, total=3, number=n))
    assert "EVERYONE OUT" in told.reply and ("kannel", ALEX, 0) in waiting(store)


def test_an_error_of_ours_is_answered_safely_logged_and_holds_the_trench(store: Store, basis: Basis) -> None:
    broken = basis.catalogs["en"].model_copy(
        update={"say": {key: text for key, text in basis.catalogs["en"].say.items() if key != "noted"}}
    )
    answer(store, serving(store, basis), message(SIZE))
    service = serving(store, Basis(basis.tables, basis.readers, {"en": broken}))
    answered = answer(store, service, message("T1 ladder in", 1))
    assert answered.reply == "No answer. Do not go in. Ring your supervisor."
    row = log.exchange(store.db, answered.exchange)
    assert row is not None and row["kind"] == "failed" and "noted" in row["error"]
    (trench,) = Records(store.db, basis.tables).open("Larch Street").values()
    assert [each.words for each in trench.now.possible] == ["T1 ladder in"]
    assert "ladder" not in trench.now.said  # what it told is not taken down


def test_a_trench_is_the_same_after_a_restart(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    for minute, text in enumerate([SIZE, "T1 ladder in", "T1 all units set", "T1 spoil 1.5 from edge"]):
        answer(store, service, message(text, minute))
    trench = Records(store.db, basis.tables).open("Larch Street")["T1"]
    assert [event.reading.purpose for event in trench.events] == ["size", "report", "report", "report"]
    assert trench.plan is not None and trench.plan.units == trench.events[0].plan.units  # type: ignore[union-attr]
    fresh = serving(store, basis)
    one = answer(store, service, message("T1 can we go in?", 9, id="old"))
    two = answer(store, fresh, message("T1 can we go in?", 9, id="new", sender=ROBIN))
    assert one.outcome == two.outcome


class SetBack:
    """A machine's clock that is set back by an hour after it was read some times."""

    def __init__(self, reads: int) -> None:
        self._reads = reads

    def now(self, message: Message | None = None) -> datetime:
        self._reads -= 1
        return AT if self._reads >= 0 else AT - timedelta(hours=1)

    def believed(self, message: Message) -> datetime:
        return message.sent_at


def test_a_clock_set_back_hides_no_hazard_and_breaks_no_chain(store: Store, basis: Basis) -> None:
    service = Service(store, People.load(PEOPLE), basis, SetBack(3), {"kannel": KANNEL})
    answer(store, service, message(SIZE))
    answer(store, service, message("T1 ladder in", 1))
    answer(store, service, message("T1 inspected, all fine", 2, sender=ALEX))
    answer(store, service, message("T1 crack in the side", -58))
    asked = answer(store, service, message("T1 can we go in?", -57))
    assert '"fact":"open hazard"' in asked.outcome and '"entry":"no"' in asked.outcome
    assert log.verify(store.db).broken_at is None


def test_a_reference_used_again_forgets_no_hazard_and_nothing_else_counts(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    for minute, text in enumerate([SIZE, "T1 cracks in the face", "close T1"]):
        answer(store, service, message(text, minute))
    assert list(Records(store.db, basis.tables).closed("Larch Street")) == ["T1"]
    asked = answer(store, service, message("can we go in T1", 3))
    assert asked.reply.startswith("T1: NOBODY IN. Crack reported 08:11") and "Trench is closed" in asked.reply
    half = answer(store, service, message("T1 depth 1.2", 4))
    assert "T1 so far: 1.2 m deep." in half.reply and "firm clay" not in half.reply
    assert "was closed" in half.reply and "Still open on it: crack" in half.reply
    again = Records(store.db, basis.tables).open("Larch Street")["T1"]
    assert [each.kind for each in again.now.hazards] == ["crack"]
    assert [event.reading.purpose for event in again.events] == ["size", "report", "close", "size"]
    whole = answer(store, service, message("width 0.9 soil firm clay", 5))
    assert "was closed" not in whole.reply


def test_a_trench_does_not_take_the_reference_of_a_closed_one(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    for minute, text in enumerate([SIZE, "close T1", SIZE.replace("T1", "T2")]):
        answer(store, service, message(text, minute))
    said = answer(store, service, message("rename T2 to T1", 3))
    assert said.reply == "T1 was closed. Use a different name."
    records = Records(store.db, basis.tables)
    assert (list(records.open("Larch Street")), list(records.closed("Larch Street"))) == (["T2"], ["T1"])


def test_figures_that_came_late_are_answered_however_long_the_answer_is(store: Store, basis: Basis) -> None:
    service = serving(store, basis)
    answer(store, service, message("T1 ladder in", 5))
    late = answer(store, service, message(SIZE, 1))
    on_time = answer(store, service, message(SIZE.replace("T1", "T2"), 6))
    assert late.reply.replace("T1", "T2").startswith(on_time.reply[:200])


def test_an_alert_that_no_channel_can_send_stands_before_the_office(store: Store, basis: Basis) -> None:
    service = Service(store, People.load(PEOPLE), basis, MessageClock(), {"json": Json()})
    answer(store, service, message(SIZE, channel="json"))
    answer(store, service, message("T1 water coming in", 1, channel="json"))
    assert waiting(store) == [("json", ALEX, 0)]
