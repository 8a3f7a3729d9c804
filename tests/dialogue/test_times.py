"""When a text says that it was sent, when it came, and which of the two counts: always the safer one."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from complete_day import PEOPLE
from talk import Talk

import bot.service
from bot.clock import STRAY, MachineClock, MessageClock
from bot.config.basis import Basis
from bot.message import Message, Turn
from bot.service import Service

NOW = datetime(2027, 1, 4, 12, 0, tzinfo=UTC)
FIRST, LAST = datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 12, 31, 23, 59, tzinfo=UTC)


@pytest.fixture
def day(basis: Basis) -> Iterator[Talk]:
    talk = Talk(basis).day()
    yield talk
    talk.close()


@pytest.mark.parametrize(
    "danger", ["T7 side slipped", "T7 gas smell in the trench", "T7 ground groaning oddly"]
)
def test_a_hazard_stamped_hours_ago_is_not_cleared_by_what_was_seen_before_it_came(
    day: Talk, danger: str
) -> None:
    day.say("F", danger, ago=300)
    assert day.entry() == "no"
    day.say("S", "T7 air test ok", ago=60)
    day.say("S", "T7 inspected ok", ago=60)  # came after it, but was made an hour before anybody knew
    day.say("S", "T7 all safe", ago=60)
    assert day.entry() == "no"


def test_an_inspection_made_after_it_came_clears_it(day: Talk) -> None:
    day.say("F", "T7 side slipped", ago=300)
    for text in ("T7 all units set all at 40 bar", "T7 air test ok", "T7 ladder in", "T7 spoil back 1.5m"):
        day.say("F", text)
    day.say("S", "T7 inspected ok", minutes=5, ago=1)
    assert day.entry() == "may"


def test_gauges_read_before_and_low_are_a_hazard_of_now(day: Talk) -> None:
    day.say("F", "T7 unit 2 at 10 bar", minutes=3, ago=2)
    day.say("S", "T7 inspected ok", minutes=1, ago=1.5)  # sent after the gauge was read, before that came
    assert day.entry() == "no"


@pytest.mark.parametrize("sent", [FIRST, datetime(1970, 1, 1, tzinfo=UTC), LAST], ids=lambda at: str(at.year))
def test_a_text_of_an_impossible_time_is_answered_and_its_hazard_counts(day: Talk, sent: datetime) -> None:
    day.clock.at += timedelta(minutes=1)
    said = day.give(day.message("F", "T7 side slipped").model_copy(update={"sent_at": sent}))
    assert said.outcome["kind"] == "noted" and "check its clock" in said.reply
    assert day.entry() == "no"


def test_an_old_text_makes_nothing_fresh_and_is_told_how_old_it_is(day: Talk) -> None:
    day.say("F", "T7 unit 1 leaking")
    said = day.say("S", "T7 inspected ok", ago=26 * 60)
    assert "(Sent 2027-01-03 " in said.reply and "check its clock" in said.reply
    assert day.entry() == "no"
    assert "check its clock" not in day.say("F", "T7 ladder in", ago=30).reply


@pytest.mark.parametrize(("given", "kept"), [(FIRST, NOW - STRAY[0]), (LAST, NOW + STRAY[1]), (NOW, NOW)])
def test_what_stands_on_the_log_is_within_days_of_when_it_came(given: datetime, kept: datetime) -> None:
    assert MachineClock().believed(message(sent=given)) == kept


def message(sender: str = PEOPLE["F"][0], sent: datetime = NOW, text: str = "T7 ladder in") -> Message:
    return Message(id=f"{sent}", channel="chat", sender=sender, text=text, sent_at=sent, received_at=NOW)


def test_only_the_crew_moves_a_clock_of_the_messages_and_by_days_only(basis: Basis) -> None:
    talk = Talk(basis)
    clock = MessageClock()
    service = Service(talk.store, talk.people, basis, clock)
    with talk.store.transaction():
        service.answer(message())
        service.answer(message(PEOPLE["X"][0], LAST))
    assert clock.now() == NOW
    assert MessageClock(talk.store.latest_sent()).now() == NOW  # nor after a restart
    with talk.store.transaction():
        service.answer(message(sent=LAST))
    assert NOW < clock.now() <= NOW + timedelta(days=31)
    assert talk.store.latest_sent() == clock.now()
    talk.close()


def test_an_error_of_ours_holds_the_trench_and_tells_the_supervisor(
    day: Talk, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = bot.service.converse

    def broken(message: Message, *given: object) -> Turn:
        if "slipped" in message.text:
            raise RuntimeError("an error of ours")
        return real(message, *given)  # type: ignore[arg-type]

    monkeypatch.setattr(bot.service, "converse", broken)
    said = day.say("F", "T7 side slipped")
    assert said.outcome["kind"] == "failed" and said.reply.startswith("No answer.")
    assert day.entry() == "no"
    (alerts,) = day.store.db.execute("SELECT alerts FROM turns WHERE kind = 'failed'").fetchone()
    assert [(each["to"], each["urgent"]) for each in json.loads(alerts)] == [(PEOPLE["S"][0], True)]
    assert "side slipped" in json.loads(alerts)[0]["text"]
    day.say("F", "all safe")  # not theirs to say, of what nobody could read
    assert day.entry() == "no"
    day.say("S", "T7 all safe")
    assert day.entry() == "may"


def test_where_it_names_no_trench_every_one_of_the_site_is_held(
    day: Talk, monkeypatch: pytest.MonkeyPatch
) -> None:
    day.say("R", "T8 depth 1.6 width 0.9 length 6 firm clay dry")

    def broken(*_: object) -> Turn:
        raise RuntimeError("an error of ours")

    with monkeypatch.context() as patched:
        patched.setattr(bot.service, "converse", broken)
        day.say("F", "something fell")
    assert day.entry("T7") == "no"
    assert "aybe danger" in day.say("S", "may they go in T8?").reply


def test_so_does_a_record_that_cannot_be_read(day: Talk) -> None:
    day.say("R", "T8 depth 1.6 width 0.9 length 6 firm clay dry")
    day.store.db.execute("UPDATE trenches SET events = 'no JSON', version = 'x' WHERE ref = 'T8'")
    said = day.say("R", "T8 ladder in")
    assert said.outcome["kind"] == "failed"
    (alerts,) = day.store.db.execute("SELECT alerts FROM turns WHERE kind = 'failed'").fetchone()
    assert [each["to"] for each in json.loads(alerts)] == [PEOPLE["S"][0]]
