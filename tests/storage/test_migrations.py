"""A database of every earlier shape is brought up to date: the log whole, the shape that of a new one."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlite_utils import Database

from bot.message import Message, Reply, Turn
from bot.storage import log
from bot.storage.migrations import steps
from bot.storage.turns import Store, hash_of
from knowledge.outcome import Unclear
from knowledge.reading import Reading

NOW = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
SAM = "+447700900123"
NAMES = [step.name for step in steps.pending(Database(memory=True))]


def shape(db: Database) -> set[tuple[str, str]]:
    """Every table, index and trigger as it was made."""
    found = db.execute("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'").fetchall()
    return {(name, sql) for name, sql in found if "migrations" not in name}


def put(store: Store, id_: str) -> None:
    said = Message(id=id_, channel="json", sender=SAM, text="firm clay", sent_at=NOW, received_at=NOW)
    reply = Reply(to=SAM, text="How deep?")
    turn = Turn(message=said, reading=Reading(), outcome=Unclear(why="test"), reply=reply)
    with store.transaction():
        store.put(turn, None, None, NOW, 0)


@pytest.mark.parametrize("next_step", NAMES[1:])
def test_an_older_file_is_brought_up_to_date(tmp_path: Path, next_step: str) -> None:
    new = Store(tmp_path / "new.sqlite")
    put(new, "before")
    older = Database(tmp_path / "log.sqlite")
    steps.apply(older, stop_before=next_step)
    row = next(iter(new.db["turns"].rows))
    columns = older.table("turns").columns_dict
    row = {name: value for name, value in row.items() if name in columns}
    if "records" not in columns:  # its hash covered none then
        row["hash"] = hash_of(row)
    older.table("turns").insert(row)
    older.close()

    store = Store(tmp_path / "log.sqlite")
    assert shape(store.db) == shape(new.db)
    put(store, "after")
    chain = log.verify(store.db)
    assert (chain.turns, chain.broken_at) == (2, None)
    assert [row["message_id"] for row in log.page(store.db, log.LogFilter(text="firm"))] == [
        "after",
        "before",
    ]
    store.close()
    new.close()
