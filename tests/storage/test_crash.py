"""kill -9 in the middle of a burst: what was answered is on the log, once, with the same answer."""

import signal
import threading
from pathlib import Path
from typing import Any

import patience
from served import Served

from bot.storage import log

ROUNDS = 3
SENDERS = 8
ENOUGH = 60  # answers before the process is killed


def burst(serving: Served, name: str) -> dict[str, dict[str, Any]]:
    """Text from several threads until the process is killed under them. What was answered, by id."""
    answered: dict[str, dict[str, Any]] = {}
    enough = threading.Event()

    def send(sender: int) -> None:
        for n in range(10_000):
            id = f"{name}-{sender}-{n}"
            try:
                answered[id] = serving.text(id)
            except (OSError, ValueError):
                return
            if len(answered) >= ENOUGH:
                enough.set()

    threads = [threading.Thread(target=send, args=(sender,)) for sender in range(SENDERS)]
    for thread in threads:
        thread.start()
    assert enough.wait(patience.SECONDS)
    serving.end(signal.SIGKILL)
    for thread in threads:
        thread.join()
    return answered


def test_every_answered_exchange_survives_kill_9(tmp_path: Path) -> None:
    file = tmp_path / "log.sqlite"
    answered: dict[str, dict[str, Any]] = {}
    for round in range(ROUNDS):
        answered |= burst(Served(file), f"r{round}")

    serving = Served(file)
    for id in list(answered)[:: max(1, len(answered) // 50)]:
        assert serving.text(id) == answered[id]
    assert serving.end(signal.SIGTERM) == 0

    db = log.open_to_read(file)
    kept = dict(db.execute("SELECT message_id, exchange FROM turns").fetchall())
    assert {id: answer["exchange"] for id, answer in answered.items()}.items() <= kept.items()
    assert log.verify(db).broken_at is None
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    db.close()
