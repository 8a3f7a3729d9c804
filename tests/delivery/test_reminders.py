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
            for site in reminders.sites(now):
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


DAY = (
    (0, SAM, "T1 1.6 deep 0.9 wide 6 long firm clay dry"),
    (3, SAM, "T1 all units set all at 40 bar"),
    (20, SAM, "T2 1.4 deep 0.9 wide 6 long firm clay dry"),
    (34, ALEX, "T1 inspected ok"),
    (75, SAM, "T1 crack in the face"),
    (90, SAM, "T2 note permit to dig till 1500"),
    (130, ALEX, "T1 inspected ok"),
    (181, SAM, "T2 all units set all at 41 bar"),
    (235, SAM, "T1 backfilled"),
    (240, SAM, "close T1"),
)


def test_who_skips_quiet_sites_reminds_of_the_same_at_the_same_minutes_as_who_looks_at_all(
    tmp_path: Path,
) -> None:
    basis, people = Basis.load(), People.load(PEOPLE)
    sent, looked = {}, {}
    for skips in (True, False):
        store = Store(tmp_path / f"{skips}.sqlite")
        service = Service(store, people, basis, MessageClock(), {"kannel": KANNEL})
        ways = Route(store, {"kannel": KANNEL})
        reminders, looks, found = Reminders(store, people, basis, ways), 0, []
        texts = {minute: (who, text) for minute, who, text in DAY}
        for minute in range(0, 30 * 60, 3):  # over the night and into the next shift
            now = DUG_AT.replace(hour=8) + timedelta(minutes=minute)
            for told in range(minute, minute + 3):
                if told in texts:
                    who, text = texts[told]
                    message = Message(
                        id=str(told), channel="kannel", sender=who, text=text, sent_at=now, received_at=now
                    )
                    with store.transaction():
                        service.answer(message)
            if not skips:
                reminders.use(basis, people)
            with store.transaction():
                sites = reminders.sites(now)
            for site in sites:
                with store.transaction():
                    reminders.remind(site, now, now)
                looks += 1
            found.append(
                store.db.execute(
                    "SELECT key, text FROM outbox WHERE why LIKE 'watch.%' ORDER BY place"
                ).fetchall()
            )
        sent[skips], looked[skips] = found, looks
        store.close()
    assert sent[True] == sent[False]
    assert len(sent[True][-1]) >= 5
    assert looked[True] < looked[False] / 5


def test_what_a_transaction_lost_is_reminded_of_again(store: Store) -> None:
    basis, people = Basis.load(), People.load(PEOPLE)
    service = Service(store, people, basis, MessageClock(), {"kannel": KANNEL})
    for minute, text in enumerate(["T1 1.6 deep 0.9 wide 6 long firm clay dry", "T1 all units set"]):
        at = DUG_AT + timedelta(minutes=minute)
        message = Message(id=str(minute), channel="kannel", sender=SAM, text=text, sent_at=at, received_at=at)
        with store.transaction():
            service.answer(message)
    reminders = Reminders(store, people, basis, Route(store, {"kannel": KANNEL}))
    now = DUG_AT.replace(hour=16, minute=59)

    def look(fails: bool) -> None:
        with store.transaction():
            for site in reminders.sites(now):
                reminders.remind(site, now, now)
            if fails:
                raise OSError("no room on the disk")

    with pytest.raises(OSError, match="no room"):
        look(fails=True)
    assert store.db.execute("SELECT count(*) FROM outbox WHERE why = 'watch.open'").fetchone() == (0,)
    look(fails=False)
    assert store.db.execute("SELECT count(*) FROM outbox WHERE why = 'watch.open'").fetchone()[0] > 0
