"""A real `trenchword serve` process, and a phone that texts it."""

import json
import os
import signal
import subprocess
import sys
import urllib.request
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import patience
from channel_samples import JSON_SECRET
from standardwebhooks import Webhook

from bot.commands.serve import PEOPLE

SAM = "+447700900123"
SECRET = {"TRENCHWORD_JSON_SECRETS": JSON_SECRET}


def signed(body: bytes) -> dict[str, str]:
    """The headers of a text as a caller who knows the secret sends it."""
    at = datetime.now(UTC)
    signature = Webhook(JSON_SECRET).sign("1", at, body.decode())
    stamp = str(int(at.timestamp()))
    return {"webhook-id": "1", "webhook-timestamp": stamp, "webhook-signature": signature}


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
            env=clean | SECRET | environment,
        )
        assert self.process.stdout
        first = self.process.stdout.readline()
        assert first, f"the service did not start: {self.process.wait()}"
        self.url = first.split()[3].rstrip(",")

    def text(self, id: str, text: str = "", sender: str = SAM) -> dict[str, Any]:
        """Send a text, a trench that its id tells where none is given. The answer's body."""
        depth = 1 + (hash(id) % 900) / 1000
        said = text or f"{id} depth {depth:.3f} width 0.9 soil firm clay"
        body = json.dumps({"id": id, "from": sender, "text": said}).encode()
        request = urllib.request.Request(f"{self.url}/hook/json", body, signed(body))
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
