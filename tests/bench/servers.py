"""The servers that are loaded, each a process of its own."""

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from fleet import SECRET, write_people

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
CREWS = 1_000
"""Whose whole days can be played, beside the fleet."""
PYTHON = os.environ.get("BENCH_PYTHON", sys.executable)
"""What runs the service: best an environment that holds nothing else, for what is installed takes memory."""


@dataclass(frozen=True)
class Server:
    """A server that answers."""

    pid: int
    port: int
    ready_s: float  # from its start as a process

    def computed_s(self) -> float:
        """Time that it computed so far, of Linux."""
        threads = Path(f"/proc/{self.pid}/task").glob("*/schedstat")
        return sum(int(each.read_text(encoding="ascii").split()[0]) for each in threads) / 1e9

    def resident_mb(self) -> float:
        """Memory that is really taken, of Linux."""
        status = Path(f"/proc/{self.pid}/status").read_text(encoding="ascii")
        found = re.search(r"VmRSS:\s+(\d+) kB", status)
        assert found
        return int(found[1]) / 1000


@contextmanager
def trenchword(db: Path, crews: int = CREWS, send_url: str = "", root: Path = ROOT) -> Iterator[Server]:
    """The service as it is delivered, with the fleet's crew list and signed hooks; texts go to `send_url`.

    `root`: the checkout that it runs from.
    """
    people = db.with_suffix(".toml")
    write_people(people, crews)
    clean = {key: value for key, value in os.environ.items() if not key.startswith("TRENCHWORD_")}
    clean.pop("PYTHONDONTWRITEBYTECODE", None)  # what is installed has been compiled
    flags = ["--port", "0", "--db", str(db), "--people", str(people)]
    ours = {"TRENCHWORD_JSON_SECRETS": SECRET} | ({"TRENCHWORD_JSON_SEND_URL": send_url} if send_url else {})
    with _running([PYTHON, "-m", "bot", "serve", *flags], clean | ours, root) as server:
        yield server


@contextmanager
def bare(db: Path) -> Iterator[Server]:
    """The handlers without a service."""
    with _running([sys.executable, str(HERE / "bare.py"), str(db)], dict(os.environ), ROOT) as server:
        yield server


@contextmanager
def _running(command: list[str], environment: dict[str, str], root: Path) -> Iterator[Server]:
    begun = time.perf_counter()
    with subprocess.Popen(
        command, cwd=root, env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        try:
            assert process.stdout
            said = process.stdout.readline()
            ready = time.perf_counter() - begun
            # "Trenchword listens on http://127.0.0.1:8080, log in ...", or the port alone.
            port = re.search(r"(\d+)(?:,|\s*$)", said)
            assert port, f"{command} did not start: {said}"
            yield Server(process.pid, int(port[1]), ready)
        finally:
            process.terminate()
