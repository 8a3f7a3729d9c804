"""The log on disk: all or nothing, never changed, and one bad job harms nobody else."""

import hashlib
import json
import sqlite3
import stat
from collections.abc import Callable, Iterator
from concurrent.futures import Future, wait
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import patience
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlite_utils import Database

from bot.message import Message, Person, Reply, Site, Thread, Turn
from bot.storage import log
from bot.storage.log import LogFilter
from bot.storage.migrations import steps
from bot.storage.turns import SPOKEN, START, Answered, Store, digest
from bot.storage.writer import Busy, Writer
from knowledge.outcome import Ask
from knowledge.reading import Reading

AT = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
SAM = Person("+447700900123", "Sam", "fitter", "Larch Street")
SITE = Site("Larch Street")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "log.sqlite")
    yield opened
    opened.close()


def turn(number: int, text: str = "depth 1.6") -> Turn:
    at = AT + timedelta(minutes=number)
    message = Message(
        id=f"m-{number}", channel="json", sender=SAM.number, text=text, sent_at=at, received_at=at
    )
    return Turn(
        message=message,
        reading=Reading(purpose="size", depth_m=1.6, questions=("soil",)),
        outcome=Ask(questions=("soil",)),
        reply=Reply(to=SAM.number, text=f"What soil? {number}"),
        stamp="abc",
        thread=Thread(sender=SAM.number, at=at, asked=("soil",)),
    )


def put(store: Store, number: int, text: str = "depth 1.6") -> Answered:
    return store.put(turn(number, text), SAM, SITE, AT + timedelta(minutes=number), 700)


def fill(store: Store, turns: int) -> None:
    with store.transaction():
        for number in range(1, turns + 1):
            put(store, number)


def test_a_turn_is_kept_whole(store: Store) -> None:
    fill(store, 1)
    row = log.exchange(store.db, 1)
    assert row is not None
    kept = {
        name: row[name] for name in ("sender", "name", "role", "site", "rulebook", "text", "kind", "stamp")
    }
    assert kept == {
        "sender": SAM.number, "name": "Sam", "role": "fitter", "site": "Larch Street", "rulebook": "uk",
        "text": "depth 1.6", "kind": "ask", "stamp": "abc",
    }  # fmt: skip
    assert row["sent_at"] == "2026-11-25T08:11:00.000000Z"
    assert row["took_us"] == 700
    thread = store.thread(SAM.number)
    assert thread is not None and thread.asked == ("soil",)


def test_a_repeat_finds_its_answer_and_a_namesake_from_another_sender_does_not(store: Store) -> None:
    fill(store, 2)
    again = store.answered(turn(2).message)
    assert again is not None and (again.exchange, again.reply) == (2, "What soil? 2")
    assert store.answered(turn(2).message.model_copy(update={"sender": "+447700900124"})) is None


def test_what_fails_leaves_nothing_behind(store: Store) -> None:
    with pytest.raises(RuntimeError), store.transaction():
        put(store, 1)
        raise RuntimeError
    assert (log.page(store.db, LogFilter()), store.thread(SAM.number)) == ([], None)


@pytest.mark.parametrize("statement", ["DELETE FROM turns", "UPDATE turns SET text = 'depth 1.2'"])
def test_the_log_refuses_to_be_changed(store: Store, statement: str) -> None:
    fill(store, 1)
    with pytest.raises(sqlite3.IntegrityError):
        store.db.execute(statement)


def test_an_untouched_chain_is_whole(store: Store) -> None:
    assert log.verify(store.db).head == START
    fill(store, 5)
    chain = log.verify(store.db)
    assert (chain.turns, chain.broken_at, chain.erased) == (5, None, 0)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE turns SET text = 'depth 1.2' WHERE exchange = 3",
        "UPDATE turns SET reply = 'go in' WHERE exchange = 3",
        "UPDATE turns SET sent_at = received_at, took_us = 1 WHERE exchange = 3",
        "UPDATE turns SET kind = 'sized' WHERE exchange = 3",
        "UPDATE turns SET text = 'depth 1.2', salt = NULL WHERE exchange = 3",
        "DELETE FROM turns WHERE exchange = 3",
        "UPDATE turns SET hash = 'f' || substr(hash, 2, 62) || '00' WHERE exchange = 3",
    ],
)
def test_a_change_behind_the_back_of_the_log_is_named(store: Store, change: str) -> None:
    fill(store, 5)
    for trigger in ("turns_stay", "turns_hold"):
        store.db.execute(f"DROP TRIGGER {trigger}")
    store.db.execute(change)
    chain = log.verify(store.db)
    assert (chain.turns, chain.broken_at) == (2, 4 if change.startswith("DELETE") else 3)


@given(st.lists(st.text() | st.none() | st.integers()))
def test_a_digest_is_that_of_the_values_as_a_json_list(values: list[Any]) -> None:
    # What older versions wrote must verify for ever, so that no quicker way may write a sign in another way.
    written = json.dumps(values, ensure_ascii=False).encode()
    assert digest(values) == hashlib.sha256(written).hexdigest()


def test_words_can_be_erased_and_the_chain_stays_whole(store: Store) -> None:
    fill(store, 3)
    head = log.verify(store.db).head
    gone = ", ".join(f"{name} = NULL" for name in (*SPOKEN, "salt"))
    store.db.execute(f"UPDATE turns SET {gone} WHERE exchange = 2")
    chain = log.verify(store.db)
    assert (chain.turns, chain.erased, chain.broken_at, chain.head) == (3, 1, None, head)


def test_pages_follow_one_another_newest_first(store: Store) -> None:
    fill(store, 5)
    first = [row["exchange"] for row in log.page(store.db, LogFilter(), most=2)]
    second = [row["exchange"] for row in log.page(store.db, LogFilter(), before=first[-1], most=2)]
    assert (first, second) == ([5, 4], [3, 2])


def test_filters_find_what_they_say_and_signs_in_a_search_are_plain_text(store: Store) -> None:
    with store.transaction():
        put(store, 1, "100% clay")
        put(store, 2, "firm clay")
    assert [row["exchange"] for row in log.page(store.db, LogFilter(text="100%"))] == [1]
    assert [row["exchange"] for row in log.page(store.db, LogFilter(text='cla FIRM" (OR*'))] == []
    assert [row["exchange"] for row in log.page(store.db, LogFilter(text="cla FIRM *"))] == []
    assert [row["exchange"] for row in log.page(store.db, LogFilter(text="cla* FIRM *"))] == [2]
    assert [row["exchange"] for row in log.page(store.db, LogFilter(kind="sized"))] == []
    assert [row["exchange"] for row in log.page(store.db, LogFilter(since="2026-11-25T08:12"))] == [2]


@pytest.mark.parametrize(
    "wanted", [LogFilter(), LogFilter(text="clay"), LogFilter(trench="T1"), LogFilter(about="stop")]
)
def test_what_the_newest_are_about_is_counted_once_for_all(store: Store, wanted: LogFilter) -> None:
    kinds = ("stop", "unclear", "failed", "ask")
    with store.transaction():
        for n in range(1, 40):
            put(store, n, f"{'firm' if n % 3 else 'soft'} {'clay' if n % 2 else 'sand'}")
    store.db.execute("DROP TRIGGER turns_hold")
    for n in range(1, 40):
        values = kinds[n % 4], f"T{n % 3}", '{"verdict": "safe"}' if n % 5 else "{}", n
        store.db.execute("UPDATE turns SET kind = ?, trench = ?, reading = ? WHERE exchange = ?", values)
    plain = replace(wanted, about=None)
    every = {about: log.count(store.db, replace(plain, about=about), 100) for about in log.ABOUT}
    assert log.about(store.db, wanted, 100) == every and every["inspection"] > 3
    newest = {row["exchange"] for row in log.page(store.db, plain, most=5)}
    few = {about: log.page(store.db, replace(plain, about=about), most=100) for about in log.ABOUT}
    counted = {about: sum(row["exchange"] in newest for row in rows) for about, rows in few.items()}
    assert log.about(store.db, wanted, 5) == counted


@pytest.mark.parametrize("few", [0, 3, 10_000])
def test_words_with_other_fields_find_the_same_by_either_way(
    store: Store, few: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(log, "FEW", few)
    kinds = ("ask", "stop", "sized")
    with store.transaction():
        for n in range(1, 40):
            put(store, n, f"{'firm' if n % 3 else 'soft'} clay {n % 5}")
    store.db.execute("DROP TRIGGER turns_hold")
    for n in range(1, 40):
        store.db.execute(
            "UPDATE turns SET kind = ?, trench = ? WHERE exchange = ?", (kinds[n % 3], f"T{n % 4}", n)
        )
    rows = log.page(store.db, LogFilter(), most=100)
    since, until = rows[20]["sent_at"], rows[5]["sent_at"]
    cases: list[tuple[LogFilter, Callable[[dict[str, Any]], bool]]] = [
        (LogFilter(text="firm", kind="stop"), lambda row: "firm" in row["text"] and row["kind"] == "stop"),
        (LogFilter(text="clay 2", trench="T1"), lambda row: " 2" in row["text"] and row["trench"] == "T1"),
        (LogFilter(text="clay", kind="failed"), lambda row: False),
        (
            LogFilter(text="soft", since=since, until=until),
            lambda row: "soft" in row["text"] and since <= row["sent_at"] < until,
        ),
    ]
    for wanted, fits in cases:
        want = [row["exchange"] for row in rows if fits(row)]
        found = [row["exchange"] for row in log.page(store.db, wanted, most=100)]
        assert found == want
        assert [row["exchange"] for row in log.page(store.db, wanted, before=20, most=2)] == [
            number for number in want if number < 20
        ][:2]


@pytest.mark.parametrize("stop_before", [step.name for step in steps.pending(Database(memory=True))])
def test_a_database_of_any_earlier_shape_is_brought_up_to_date(tmp_path: Path, stop_before: str) -> None:
    file = tmp_path / "old.sqlite"
    old = Database(file)
    steps.apply(old, stop_before=stop_before)
    old.close()
    store = Store(file)
    fill(store, 1)
    assert log.verify(store.db).turns == 1
    store.close()


def test_every_commit_is_flushed_to_the_disk(store: Store) -> None:
    # SQLite's documentation: in WAL mode only synchronous=FULL (2) or more makes a commit durable.
    assert store.db.journal_mode == "wal"
    assert store.db.execute("PRAGMA synchronous").fetchone() == (2,)


def test_nobody_but_the_owner_reads_the_log(store: Store, tmp_path: Path) -> None:
    fill(store, 1)
    modes = {file.name: stat.S_IMODE(file.stat().st_mode) for file in tmp_path.iterdir()}
    assert set(modes) == {"log.sqlite", "log.sqlite-wal", "log.sqlite-shm"}
    assert set(modes.values()) == {0o600}


def test_jobs_run_in_the_order_taken_and_all_are_on_the_disk_when_answered(
    store: Store, tmp_path: Path
) -> None:
    writer = Writer(store)
    jobs = [writer.submit(lambda n=n: put(store, n)) for n in range(1, 201)]
    assert [job.result(timeout=patience.SECONDS).exchange for job in jobs] == list(range(1, 201))
    other = log.open_to_read(tmp_path / "log.sqlite")
    assert log.verify(other).turns == 200
    other.close()
    writer.stop()


def test_a_bad_job_fails_alone(store: Store) -> None:
    writer = Writer(store)

    def bad() -> Answered:
        put(store, 99)
        raise ValueError("of its own making")

    jobs: list[Future[Answered]] = [
        writer.submit(bad if n % 10 == 0 else lambda n=n: put(store, n)) for n in range(1, 41)
    ]
    wait(jobs)
    failed = [n for n, job in enumerate(jobs, 1) if job.exception()]
    assert failed == [10, 20, 30, 40]
    chain = log.verify(store.db)
    assert (chain.turns, chain.broken_at) == (36, None)
    writer.stop()


def test_a_locked_file_fails_those_who_wait_and_then_works_again(store: Store, tmp_path: Path) -> None:
    store.db.execute("PRAGMA busy_timeout = 20")
    writer = Writer(store)
    other = sqlite3.connect(tmp_path / "log.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    assert isinstance(writer.submit(lambda: put(store, 1)).exception(), sqlite3.OperationalError)
    other.execute("ROLLBACK")
    assert writer.submit(lambda: put(store, 1)).result().exchange == 1
    other.close()
    writer.stop()


def test_a_full_disk_fails_those_who_wait_and_then_works_again(store: Store) -> None:
    pages = store.db.execute("PRAGMA page_count").fetchone()[0]
    store.db.execute(f"PRAGMA max_page_count = {pages}")
    writer = Writer(store)
    long = "clay " * 4000
    assert isinstance(writer.submit(lambda: put(store, 1, long)).exception(), sqlite3.OperationalError)
    assert writer.submit(lambda: store.answered(turn(1).message)).result() is None
    writer.submit(lambda: None).result()
    store.db.execute(f"PRAGMA max_page_count = {pages + 100}")
    assert writer.submit(lambda: put(store, 1, long)).result().exchange == 1
    writer.stop()


def test_a_queue_that_is_full_says_so(store: Store) -> None:
    writer = Writer(store, most_waiting=0)
    with pytest.raises(Busy):
        writer.submit(lambda: put(store, 1))
    writer.stop()


def test_stopping_finishes_what_was_taken(store: Store) -> None:
    writer = Writer(store)
    jobs = [writer.submit(lambda n=n: put(store, n)) for n in range(1, 51)]
    writer.stop()
    assert [job.result(timeout=0).exchange for job in jobs] == list(range(1, 51))
