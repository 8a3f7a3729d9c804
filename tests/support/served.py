"""A real `trenchword serve` process, and a phone that texts it."""

import json
import os
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import Any

import patience

from bot.commands.serve import PEOPLE

SAM = "+447700900123"


class Served:
    """One run of the service on a file, killed where a test forgets to end it."""

    def __init__(self, db: Path, **environment: str) -> None:
        command = [sys.executable, "-m", "bot", "serve", "--port", "0", "--db", str(db)]
        clean = {key: value for key, value in os.environ.items() if not key.startswith("TRENCHWORD_")}
        self.process = subprocess.Popen(
            [*command, "--people", str(PEOPLE)],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env=clean | environment,
        )
        assert self.process.stdout
        first = self.process.stdout.readline()
        assert first, f"the service did not start: {self.process.wait()}"
        self.url = first.split()[3].rstrip(",")

    def text(self, id: str, text: str = "", sender: str = SAM) -> dict[str, Any]:
        """Send a text, a trench that its id tells where none is given. The answer's body."""
        depth = 1 + (hash(id) % 900) / 1000
        said = text or f"{id} depth {depth:.3f} width 0.9 soil firm clay"
        request = urllib.request.Request(
            f"{self.url}/hook/json", json.dumps({"id": id, "from": sender, "text": said}).encode()
        )
        with urllib.request.urlopen(request, timeout=patience.SECONDS) as response:
            answer: dict[str, Any] = json.load(response)
            return answer

    def look(self, path: str) -> bytes:
        """A page as anybody sees it."""
        with urllib.request.urlopen(self.url + path, timeout=patience.SECONDS) as response:
            page: bytes = response.read()
            return page

    def end(self, how: signal.Signals) -> int:
        """End the process, and wait until it has gone. Its exit code."""
        self.process.send_signal(how)
        code = self.process.wait(timeout=patience.SECONDS)
        if self.process.stdout:
            self.process.stdout.close()
        return code
