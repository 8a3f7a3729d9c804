"""What falls due goes to whom it concerns, once, whatever happens in between."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.channels.kannel import Kannel
from bot.clock import MessageClock
from bot.commands.serve import PEOPLE
from bot.config.basis import Basis
from bot.config.people import People
from bot.delivery.reminders import Reminders
from bot.delivery.route import Route
from bot.message import Message
from bot.service import Service
from bot.storage.turns import Store

SAM, ALEX = "+447700900123", "+447700900124"
SITE = "Larch Street"  # shift from 07:30 to 17:00, in winter the same as UTC
DUG_AT = datetime(2026, 11, 25, 13, 0, tzinfo=UTC)
KANNEL = Kannel(secrets="key", send_url="http://127.0.0.1:1/sendsms")  # type: ignore[arg-type]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "log.sqlite")
    yield opened
    opened.close()


def due(store: Store, basis: Basis, now: datetime) -> list[tuple[str, str]]:
    """What waits for whom after looking twice at `now`, with a new start in between."""
    people = People.load(PEOPLE)
    for _ in range(2):
        reminders = Reminders(store, people, basis, Route(store, {"kannel": KANNEL}))
        with store.transaction():
            for site in reminders.sites():
                reminders.remind(site, now, now)
    return store.db.execute(
        "SELECT why, recipient FROM outbox WHERE why LIKE 'watch.%' ORDER BY place"
    ).fetchall()


def test_a_trench_left_open_is_said_once_before_the_shift_ends(store: Store) -> None:
    basis = Basis.load()
    service = Service(store, People.load(PEOPLE), basis, MessageClock(), {"kannel": KANNEL})
    for minute, text in enumerate(["T1 1.6 deep 0.9 wide 6 long firm clay dry", "T1 all units set"]):
        at = DUG_AT + timedelta(minutes=minute)
        message = Message(id=str(minute), channel="kannel", sender=SAM, text=text, sent_at=at, received_at=at)
        with store.transaction():
            service.answer(message)
    assert due(store, basis, DUG_AT + timedelta(minutes=5)) == []
    said = due(store, basis, DUG_AT.replace(hour=16, minute=59))
    assert [each for each in said if each[0] == "watch.open"]
    assert len(said) == len(set(said))
    assert due(store, basis, DUG_AT.replace(hour=16, minute=59)) == said


def test_without_an_open_trench_nothing_is_due(store: Store) -> None:
    assert due(store, Basis.load(), DUG_AT) == []
