"""kill -9 in the middle of a burst: what was answered is on the log, once, with the same answer."""

import json
import os
import signal
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import patience

from bot.commands.serve import PEOPLE
from bot.storage import log

SAM = "+447700900123"
ROUNDS = 3
SENDERS = 8
ENOUGH = 60  # answers before the process is killed


class Serving:
    """A real `trenchword serve` process."""

    def __init__(self, db: Path) -> None:
        command = [
            sys.executable,
            "-m",
            "bot",
            "serve",
            "--port",
            "0",
            "--db",
            str(db),
            "--people",
            str(PEOPLE),
        ]
        clean = {key: value for key, value in os.environ.items() if not key.startswith("TRENCHWORD_")}
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=clean)
        assert self.process.stdout
        self.url = self.process.stdout.readline().split()[3].rstrip(",")

    def text(self, id: str) -> dict[str, Any]:
        depth = 1 + (hash(id) % 900) / 1000
        data = {"id": id, "from": SAM, "text": f"{id} depth {depth:.3f} width 0.9 soil firm clay"}
        request = urllib.request.Request(f"{self.url}/hook/json", json.dumps(data).encode())
        with urllib.request.urlopen(request, timeout=patience.SECONDS) as response:
            answer: dict[str, Any] = json.load(response)
            return answer

    def end(self, how: signal.Signals) -> int:
        self.process.send_signal(how)
        code = self.process.wait(timeout=patience.SECONDS)
        if self.process.stdout:
            self.process.stdout.close()
        return code


def burst(serving: Serving, name: str) -> dict[str, dict[str, Any]]:
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
        answered |= burst(Serving(file), f"r{round}")

    serving = Serving(file)
    for id in list(answered)[:: max(1, len(answered) // 50)]:
        assert serving.text(id) == answered[id]
    assert serving.end(signal.SIGTERM) == 0

    db = log.open_to_read(file)
    kept = dict(db.execute("SELECT message_id, exchange FROM turns").fetchall())
    assert {id: answer["exchange"] for id, answer in answered.items()}.items() <= kept.items()
    assert log.verify(db).broken_at is None
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    db.close()
