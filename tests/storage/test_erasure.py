"""Words can be erased, and copies made, and the chain of the log stays whole."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from shipped import shipped

from bot.__main__ import main
from bot.commands.serve import PEOPLE
from bot.config.people import People
from bot.delivery.outbox import Outbox, QueuedText
from bot.demo.seed import seed
from bot.erasure import TELLING, erase_before, erase_person
from bot.message import Guest, Reply
from bot.storage import log
from bot.storage.guests import Guests
from bot.storage.log import LogFilter
from bot.storage.records import Records
from bot.storage.turns import Store
from knowledge.reading import Reading
from knowledge.record.trench import Event, rebuild
from knowledge.tables.load import load

Out = pytest.CaptureFixture[str]
SAM, ALEX = "+447700900123", "+447700900124"


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    file = tmp_path / "log.sqlite"
    store = Store(file)
    seed(store, People.load(PEOPLE), shipped(), datetime(2026, 12, 24, tzinfo=UTC))
    store.close()
    return file


def test_what_one_person_said_is_gone_from_the_file_and_the_chain_stays_whole(demo: Path) -> None:
    before = log.open_to_read(demo)
    head = log.verify(before).head
    texts = [row["text"] for row in log.page(before, LogFilter(sender=SAM), most=1000)]
    others = {row["text"] for row in log.page(before, LogFilter(sender=ALEX), most=1000)}
    # "yes" and "STRIP T9" are nobody's words.
    said = [text.encode() for text in texts if len(text) >= TELLING and text not in others]
    theirs = len(log.page(before, LogFilter(sender=ALEX), most=1000))
    before.close()
    assert said and any(text in demo.read_bytes() for text in said)

    assert main(["erase", "--number", SAM, "--db", str(demo)]) == 0
    assert [text for text in said if text in demo.read_bytes()] == []
    after = log.open_to_read(demo)
    for table, column in (("turns", "sender"), ("threads", "sender"), ("trenches", "events")):
        assert after.execute(f"SELECT 1 FROM {table} WHERE {column} LIKE '%{SAM}%'").fetchall() == []
    chain = log.verify(after)
    assert (chain.head, chain.broken_at, chain.erased) == (head, None, chain.erased)
    assert chain.erased >= len(texts)  # and those in which others were shown the words
    left = len(log.page(after, LogFilter(sender=ALEX), most=1000))
    assert 0 < theirs - left <= chain.erased - len(texts)  # those in which Sam's words were shown to Alex
    after.close()


def test_what_was_said_before_a_day_is_gone(demo: Path) -> None:
    assert main(["erase", "--before", "2026-12-23", "--db", str(demo)]) == 0
    db = log.open_to_read(demo)
    rows = log.page(db, LogFilter(), most=1000)
    assert {row["sent_at"] < "2026-12-23" for row in rows if row["text"] is None} == {True}
    assert {row["sent_at"] < "2026-12-23" for row in rows if row["text"] is not None} == {False}
    assert log.verify(db).broken_at is None
    db.close()


def test_a_backup_is_brought_back_and_never_over_a_log(demo: Path, tmp_path: Path, capsys: Out) -> None:
    running = Store(demo)  # as the service has it open
    copy, other = tmp_path / "copy.sqlite", tmp_path / "other.sqlite"
    assert main(["backup", str(copy), "--db", str(demo)]) == 0
    assert main(["restore", str(copy), "--db", str(other)]) == 0
    db = log.open_to_read(other)
    assert log.verify(db) == log.verify(running.db)
    db.close()
    running.close()
    capsys.readouterr()
    assert main(["restore", str(copy), "--db", str(other)]) == 2
    assert "is there already" in capsys.readouterr().err


def test_a_broken_log_makes_no_backup(demo: Path, tmp_path: Path) -> None:
    store = Store(demo)
    store.db.execute("DROP TRIGGER turns_hold")
    store.db.execute("UPDATE turns SET reply = 'go in' WHERE exchange = 2")
    store.close()
    copy = tmp_path / "copy.sqlite"
    assert main(["backup", str(copy), "--db", str(demo)]) == 2
    assert not copy.exists()


def test_the_words_of_a_trench_go_with_their_sender_and_what_they_hold_back_stays(tmp_path: Path) -> None:
    def text(number: str, words: str) -> Event:
        by, role = ("Sam", "fitter") if number == SAM else ("Alex", "supervisor")
        reading = Reading(purpose="unclear", left_over=(words,))
        at = datetime(2026, 11, 25, 9, tzinfo=UTC)
        return Event(f"kannel/{number}/1", at, by, number, role, reading, words=words, open_text=True)  # type: ignore[arg-type]

    tables = load()
    trench = rebuild(
        "T7", "Mill Lane", "uk", "light", (text(SAM, "odd at the far end"), text(ALEX, "mine")), tables
    )
    store = Store(tmp_path / "log.sqlite")
    with store.transaction():
        Records(store.db, tables).put(trench, exchange=1)
        erase_person(store.db, SAM)
    (kept,) = store.db.execute("SELECT events FROM trenches").fetchone()
    assert "odd" not in kept and SAM not in kept and "mine" in kept
    found = Records(store.db, tables).find("Mill Lane", "T7")
    store.close()
    assert found is not None
    assert [(each.said.by, each.words) for each in found.now.open_texts] == [("erased", ""), ("Alex", "mine")]


def test_who_asked_to_join_is_forgotten_with_the_number_and_the_texts_that_told_it() -> None:
    at = datetime(2026, 11, 25, 9, tzinfo=UTC)
    asked = {"name": "Dave", "site": "Mill Lane", "asked": at}
    store = Store(":memory:")
    guests, outbox = Guests(store.db), Outbox(store.db)
    with store.transaction():
        guests.put(Guest(number=SAM, **asked))  # type: ignore[arg-type]
        guests.put(Guest(number="+447700900199", until=at + timedelta(days=2), by="Alex", **asked))  # type: ignore[arg-type]
        told = Reply(to=ALEX, text=f"{SAM} wants to join Mill Lane as Dave")
        outbox.put([QueuedText("7-0", "kannel", told, rank=1, why="join")], at)
        store.db.execute("UPDATE outbox SET state = 'sent'")
        erase_before(store.db, at + timedelta(days=1))
        assert [one.number for one in guests.all(at)] == ["+447700900199"]
        guests.put(Guest(number=SAM, **asked))  # type: ignore[arg-type]
        erase_person(store.db, SAM)
        assert [one.number for one in guests.all(at)] == ["+447700900199"]
    assert SAM not in str(store.db.execute("SELECT * FROM outbox").fetchall())
    store.close()
