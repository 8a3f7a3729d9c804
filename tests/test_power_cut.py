"""A power cut: what was never flushed to the disk is gone, and nothing that was answered is among it.

kill -9 cannot show this, since the kernel still writes what the process left to it. Here the file system
itself is shut down without a flush. Where commits are not flushed the same cut must lose answers.
"""

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from bot import log

ANSWERS = 400
NEEDED = ("mkfs.xfs", "xfs_io", "mount", "umount")
pytestmark = pytest.mark.skipif(
    os.geteuid() != 0 or not all(shutil.which(each) for each in NEEDED),
    reason="cutting the power needs root and xfsprogs",
)

# Writes turns as fast as they are answered, and says the number of each once it is.
WRITING = """
import sys
from datetime import UTC, datetime
from bot.message import Message, Reply, Turn
from bot.store import Store
from bot.writer import Writer
from knowledge.outcome import Unclear
from knowledge.reading import Reading

store = Store(sys.argv[1])
store.db.execute("PRAGMA synchronous = " + sys.argv[2])
writer = Writer(store)

def put(n):
    now = datetime.now(UTC)
    sender = "+447700900123"
    message = Message(id=str(n), channel="json", sender=sender, text="?", sent_at=now, received_at=now)
    turn = Turn(message, Reading(), Unclear(), Reply(to=sender, text="?"))
    return store.put(turn, None, None, now, 0)

n = 0
while True:
    together = [writer.submit(lambda n=n: put(n)) for n in range(n, n + 8)]
    n += 8
    for answered in together:
        print(answered.result().exchange, flush=True)
"""


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[tuple[Path, Path]]:
    """A file system of its own in a file, mounted: (the file, where it is mounted)."""
    image, place = tmp_path / "disk", tmp_path / "mounted"
    place.mkdir()
    with image.open("wb") as file:
        file.truncate(320 * 1024 * 1024)
    subprocess.run(["mkfs.xfs", "-q", image], check=True)
    mounted = subprocess.run(["mount", "-o", "loop", image, place], capture_output=True, text=True)
    if mounted.returncode:
        pytest.skip(f"no loop mount here: {mounted.stderr.strip()}")
    yield image, place
    subprocess.run(["umount", place], capture_output=True)


def cut(disk: tuple[Path, Path], synchronous: str) -> tuple[int, log.Chain]:
    """Cut the power while turns are written: the last one answered before, and what is found after."""
    image, place = disk
    command = [sys.executable, "-c", WRITING, str(place / "log.sqlite"), synchronous]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert process.stdout
    # Only what was answered before the cut counts: the cut itself takes time.
    answered = max(int(process.stdout.readline()) for _ in range(ANSWERS))
    subprocess.run(["xfs_io", "-x", "-c", "shutdown", place], check=True)
    process.kill()
    process.wait()
    process.stdout.close()
    subprocess.run(["umount", place], check=True)
    subprocess.run(["mount", "-o", "loop", image, place], check=True)
    return answered, found(place / "log.sqlite")


def found(file: Path) -> log.Chain:
    """The log as it stands after the cut; a file that is no database any more holds nothing."""
    try:
        db = log.open_to_read(file)
        try:
            return log.verify(db)
        finally:
            db.close()
    except sqlite3.DatabaseError:
        return log.Chain(0, "")


def test_what_was_answered_survives_a_power_cut(disk: tuple[Path, Path]) -> None:
    answered, chain = cut(disk, "FULL")
    assert answered >= ANSWERS
    assert chain.turns >= answered and chain.broken_at is None


def test_without_flushing_the_same_cut_loses_answers(disk: tuple[Path, Path]) -> None:
    answered, chain = cut(disk, "OFF")
    assert answered >= ANSWERS
    assert chain.turns < answered
