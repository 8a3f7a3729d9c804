"""One phone that does a lot keeps nobody else waiting, and takes no more memory the more it says."""

import threading
import tracemalloc
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import patience
import pytest
from talk import Talk

from bot.config.basis import Basis
from bot.message import Heard
from bot.reading.both import Readers
from bot.storage.records import MOST_EVENTS, Records
from bot.storage.turns import Store
from bot.storage.writer import Busy, Writer

SIZING = "depth 1.6 width 0.9 length 6 firm clay dry"


@pytest.fixture
def talk(basis: Basis) -> Iterator[Talk]:
    made = Talk(basis)
    yield made
    made.close()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "log.sqlite")
    yield opened
    opened.close()


def test_a_hazard_goes_before_all_that_waits(store: Store) -> None:
    done: list[str] = []
    begun, go = threading.Event(), threading.Event()

    def first() -> None:
        begun.set()
        assert go.wait(patience.SECONDS)

    writer = Writer(store, most_together=1)
    jobs = [writer.submit(first)]
    assert begun.wait(patience.SECONDS)
    jobs += [writer.submit(lambda n=n: done.append(f"status {n}")) for n in range(200)]
    jobs.append(writer.submit(lambda: done.append("hazard"), urgent=True))
    jobs.append(writer.submit(lambda: done.append("another"), urgent=True))
    go.set()
    for job in jobs:
        job.result(patience.SECONDS)
    writer.stop()
    assert done[:2] == ["hazard", "another"] and done[2:] == [f"status {n}" for n in range(200)]


def test_a_full_queue_has_room_for_a_hazard(store: Store) -> None:
    begun, go = threading.Event(), threading.Event()

    def first() -> None:
        begun.set()
        assert go.wait(patience.SECONDS)

    writer = Writer(store, most_waiting=2, most_together=1)
    writer.submit(first)
    assert begun.wait(patience.SECONDS)
    for _ in range(2):
        writer.submit(lambda: None)
    with pytest.raises(Busy):
        writer.submit(lambda: None)
    urgent = writer.submit(lambda: None, urgent=True)
    go.set()
    writer.stop()
    assert urgent.done()


@pytest.mark.parametrize("text", ["T7 side slipped", "T7 stop work everyone out", "T7 gas smell"])
def test_what_is_heard_as_danger_is_urgent(talk: Talk, text: str) -> None:
    assert talk.service.sounds_dangerous(talk.message("F", text))


@pytest.mark.parametrize("text", ["status", "T7 ladder in", SIZING, "what next"])
def test_what_is_not_waits_its_turn(talk: Talk, text: str) -> None:
    assert not talk.service.sounds_dangerous(talk.message("F", text))


def test_what_was_heard_before_its_turn_is_not_read_again(talk: Talk, basis: Basis) -> None:
    read: list[str] = []

    class Noting(Readers):
        def _read(self, text: str, *rest: Any) -> Heard:
            read.append(text)
            return super()._read(text, *rest)

    readers = Noting(basis.words, basis.readers.second)
    talk.service.use(replace(basis, readers=readers), talk.service._people)
    message = talk.message("F", f"T7 {SIZING}")
    assert not talk.service.sounds_dangerous(message)
    assert talk.give(message).outcome["kind"] == "sized"
    assert read == [message.text]


def test_one_phone_begins_so_many_trenches_and_danger_is_still_taken(talk: Talk, basis: Basis) -> None:
    most = int(basis.tables.entry.figure.open_at_most.value)
    for n in range(1, most + 1):
        assert talk.say("F", f"T{n} {SIZING}", minutes=0.01).outcome["kind"] == "sized"
    assert "Close one first" in talk.say("F", f"T900 {SIZING}").reply
    assert "Close one first" in talk.say("F", "T900 ladder in").reply
    assert talk.say("F", "T900 side slipped").outcome["kind"] == "noted"
    assert talk.entry("T900") == "no"
    assert talk.say("R", f"T800 {SIZING}").outcome["kind"] == "sized"  # another phone's are its own
    talk.say("F", "close T1")
    assert talk.say("F", f"T901 {SIZING}").outcome["kind"] in ("sized", "unclear")


def test_status_looks_at_no_more_than_it_can_show(talk: Talk, monkeypatch: pytest.MonkeyPatch) -> None:
    import bot.dialogue.answers.base as base

    talk.say("F", f"T1 {SIZING}")
    (row,) = talk.store.db.execute("SELECT * FROM trenches").fetchall()
    columns = [name for name, *_ in talk.store.db.execute("SELECT * FROM trenches").description]
    for n in range(2, 400):
        values = dict(zip(columns, row, strict=True)) | {"ref": f"T{n}", "number": n}
        talk.store.db.table("trenches").insert(values)
    talk.say("R", "T300 side slipped")
    judged: list[str] = []
    real = base.entry
    monkeypatch.setattr(base, "entry", lambda trench, *rest: judged.append(trench.ref) or real(trench, *rest))
    said = talk.say("S", "status")
    assert len(judged) <= 130
    assert said.reply.startswith("T300") and "more" in said.reply


def test_a_record_is_held_once_however_often_it_changes(talk: Talk, basis: Basis) -> None:
    talk.say("F", f"T1 {SIZING}")
    for n in range(30):
        talk.say("F", f"T1 dug to 1.{n:02}", minutes=0.1)
    records: Records = talk.service._records
    assert [ref for _, ref in records._known] == ["T1"]
    assert records._events == len(records.find("bar", "T1").events)  # type: ignore[union-attr]
    assert records._events <= MOST_EVENTS


def test_memory_does_not_grow_with_versions(talk: Talk) -> None:
    talk.say("F", f"T1 {SIZING}")

    def texts() -> int:
        for n in range(60):
            talk.say("F", f"T1 dug to 1.{n:02}", minutes=0.1)
        return tracemalloc.get_traced_memory()[0]

    tracemalloc.start()
    try:
        first, *_, last = (texts() for _ in range(4))
    finally:
        tracemalloc.stop()
    # A text keeps its own event and state: some kilobytes, and not all those that were there before it.
    assert (last - first) / 180 < 40_000


def test_a_text_writes_out_no_event_but_its_own(talk: Talk, monkeypatch: pytest.MonkeyPatch) -> None:
    import bot.storage.records as records

    talk.say("F", f"T1 {SIZING}")
    dumped = 0
    real = records._EVENT.dump_json

    def counted(event: Any, **how: Any) -> bytes:
        nonlocal dumped
        dumped += 1
        return real(event, **how)

    monkeypatch.setattr(records, "_EVENT", SimpleNamespace(dump_json=counted))
    for n in range(40):
        talk.say("F", f"T1 dug to 1.{n:02}", minutes=0.1, ago=3 * (n % 2))  # some come late
    assert dumped == 40


def test_a_version_of_a_transaction_that_came_to_nothing_is_not_believed(talk: Talk, basis: Basis) -> None:
    talk.say("F", f"T1 {SIZING}")
    records = talk.service._records
    before = records.find("bar", "T1")
    with pytest.raises(RuntimeError), talk.store.transaction():
        talk.service.answer(talk.message("F", "T1 ladder in"))
        raise RuntimeError
    assert records.find("bar", "T1") == before
    talk.say("F", "T1 spoil back 1.5m")
    after = records.find("bar", "T1")
    assert after is not None and "ladder" not in after.now.said
