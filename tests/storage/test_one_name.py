"""A trench that is on record as T07, from before "T07" was read as T7, is found as T7 after the upgrade."""

import signal
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from served import SAM, Served

from bot.__main__ import main
from bot.clock import MachineClock
from bot.commands.serve import PEOPLE
from bot.config.basis import Basis
from bot.config.people import People
from bot.message import Message
from bot.service import Service
from bot.storage import log
from bot.storage.one_name import give_one_name
from bot.storage.records import Records
from bot.storage.turns import Store

SITE = "Larch Street"
SIZED = "depth 1.6 width 0.9 length 6 firm clay dry"


class Before:
    """The service as it was: a reference is kept as it was written."""

    def __init__(self, file: Path, basis: Basis) -> None:
        self.file, self.basis, self._count = file, basis, 0

    def tell(self, *texts: str, sender: str = SAM) -> None:
        store = Store(self.file)
        service = Service(store, People.load(PEOPLE), self.basis, MachineClock())
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(
                "bot.reading.text.figures.reference",
                lambda letters, digits, suffix="": f"{letters}{digits}{suffix}".upper(),
            )
            for text in texts:
                self._count += 1
                now = datetime.now(UTC)
                message = Message(
                    id=f"old-{self._count}",
                    channel="json",
                    sender=sender,
                    text=text,
                    sent_at=now,
                    received_at=now,
                )
                with store.transaction():
                    service.answer(message)
        store.close()

    def refs(self) -> dict[str, bool]:
        """What is on record, and whether it is open."""
        db = log.open_to_read(self.file)
        found = {ref: bool(is_open) for ref, is_open in db.execute("SELECT ref, open FROM trenches")}
        db.close()
        return found

    def upgraded(self, at: datetime | None = None) -> int:
        store = Store(self.file)
        with store.transaction():
            done = give_one_name(store, self.basis.tables, at or datetime.now(UTC))
        store.close()
        return done

    def events(self, ref: str) -> list[str]:
        """The words of what is told of a trench."""
        store = Store(self.file)
        found = Records(store.db, self.basis.tables).find(SITE, ref)
        store.close()
        return [each.words for each in found.events] if found else []


@pytest.fixture
def before(tmp_path: Path, basis: Basis) -> Iterator[Before]:
    yield Before(tmp_path / "log.sqlite", basis)


@pytest.mark.parametrize("name", ["T07", "T007", "t07", "T٧"])
def test_it_is_found_by_what_a_crew_texts(before: Before, name: str) -> None:
    before.tell(f"{name} {SIZED}", f"{name} side slipped", "T9 " + SIZED)
    assert "T7" not in before.refs()
    served = Served(before.file)
    try:
        outcomes = [
            served.text(f"n{n}", f"{ref} can they go in")["outcome"] for n, ref in enumerate((name, "T7"))
        ]
    finally:
        served.end(signal.SIGTERM)
    for outcome in outcomes:
        assert outcome["trench"] == "T7" and "open hazard" in {each["fact"] for each in outcome["missing"]}, (
            outcome
        )
    assert before.refs() == {name.upper(): False, "T7": True, "T9": True}
    assert main(["log", "verify", "--db", str(before.file)]) == 0


def test_a_conversation_goes_on_under_the_new_name(before: Before) -> None:
    before.tell(f"T07 {SIZED}")
    served = Served(before.file)
    try:
        assert served.text("n1", "ladder in")["outcome"]["trench"] == "T7"
    finally:
        served.end(signal.SIGTERM)
    assert "ladder in" in before.events("T7")


def test_two_records_of_one_name_become_one_and_danger_on_either_stands(before: Before) -> None:
    before.tell(f"T7 {SIZED}", f"T07 {SIZED}", "T07 side slipped", "T7 ladder in")
    assert before.upgraded() == 1
    assert before.refs() == {"T7": True, "T07": False}
    store = Store(before.file)
    found = Records(store.db, before.basis.tables).find(SITE, "T7")
    assert found is not None and found.now.hazards
    assert {"T07 side slipped", "T7 ladder in"} <= {each.words for each in found.events}
    assert log.verify(store.db).broken_at is None
    store.close()


def test_what_cannot_become_one_gets_a_free_name_and_the_other_is_held(before: Before) -> None:
    before.tell(f"T7 {SIZED}", f"T07 {SIZED}", "T07 side slipped")
    store = Store(before.file)
    store.db.execute("UPDATE trenches SET kit = 'light' WHERE ref = 'T07'")
    (kit,) = store.db.execute("SELECT kit FROM trenches WHERE ref = 'T7'").fetchone()
    if kit == "light":
        store.db.execute("UPDATE trenches SET kit = 'heavy' WHERE ref = 'T07'")
    store.close()
    assert before.upgraded() == 1
    assert before.refs() == {"T7": True, "T07": False, "T8": True}
    store = Store(before.file)
    records = Records(store.db, before.basis.tables)
    held, named = records.find(SITE, "T7"), records.find(SITE, "T8")
    assert held and [each.words for each in held.now.open_texts] == [
        "T07 was another trench on record: it is T8 now"
    ]
    assert named and named.now.hazards
    assert log.verify(store.db).broken_at is None
    store.close()


def test_a_closed_one_is_renamed_where_its_name_is_free_and_else_left(before: Before) -> None:
    before.tell(f"T07 {SIZED}", "close T07", f"T08 {SIZED}", "close T08", f"T8 {SIZED}")
    old = {ref: is_open for ref, is_open in before.refs().items() if not is_open}
    assert set(old) == {"T07", "T08"}
    assert before.upgraded() == 1
    assert before.refs() == {"T07": False, "T08": False, "T7": False, "T8": True}


def test_it_is_done_once(before: Before) -> None:
    before.tell(f"T07 {SIZED}", f"AB3 {SIZED}")
    assert [before.upgraded(), before.upgraded()] == [1, 0]


def test_a_log_without_such_names_is_not_touched(before: Before) -> None:
    before.tell(f"T7 {SIZED}")
    assert before.upgraded() == 0
    db = log.open_to_read(before.file)
    assert db.execute("SELECT count(*) FROM turns").fetchone() == (1,)
    db.close()
