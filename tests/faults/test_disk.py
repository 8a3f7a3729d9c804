"""Disks that fail or fill, and a log that is locked: what was answered stays, the rest is answered 503,
and the same text is taken once the disk works again.

Faults are put into the running service from outside, by strace and by real file systems.
"""

import asyncio
import os
import shutil
import sqlite3
import subprocess
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from mounts import mounted
from serving import Serving, Told, check, phones

from bot.__main__ import main

pytestmark = pytest.mark.faults

TEXT = "T1 depth 1.6 width 0.9 soil firm clay"
needs_root = pytest.mark.skipif(os.geteuid() != 0, reason="mounting needs root")
needs_strace = pytest.mark.skipif(shutil.which("strace") is None, reason="apt-get install strace")


@asynccontextmanager
async def injected(pid: int, *faults: str) -> AsyncIterator[None]:
    """System calls of a process that fail as `faults` say, until the end of the block."""
    calls = ",".join(fault.partition(":")[0] for fault in faults)
    command = ["strace", "-f", "-qq", "-o", os.devnull, "-e", f"trace={calls}", "-p", str(pid)]
    for fault in faults:
        command += ["-e", f"inject={fault}"]
    strace = subprocess.Popen(command, stderr=subprocess.PIPE)
    try:
        while "TracerPid:\t0" in Path(f"/proc/{pid}/status").read_text():
            assert strace.poll() is None, strace.stderr and strace.stderr.read()
            await asyncio.sleep(0.02)
        await asyncio.sleep(0.1)  # the other threads are taken up one after another
        yield
    finally:
        strace.terminate()
        strace.wait()


@needs_strace
@pytest.mark.parametrize(
    "fault",
    [
        "fdatasync:error=EIO",
        "fdatasync:error=EIO:when=2+3",
        "pwrite64:error=EIO",
        "pwrite64:error=ENOSPC:when=3+7",
        "pwrite64:error=EIO:when=2+5",
    ],
)
async def test_a_disk_that_fails_and_recovers(tmp_path: Path, fault: str) -> None:
    file, told = tmp_path / "log.sqlite", Told()
    serving = Serving(file)
    async with phones(serving, told) as crew:
        assert await crew.text("json-before-1", TEXT) == 200
        async with injected(serving.pid, fault):
            for n in range(30):
                await crew.text(f"json-during-{n}", TEXT)
        assert told.refused
        # Not answered does not mean not kept: the same text again is kept once.
        for id in sorted(told.open):
            assert await crew.text(id, told.sent[id]) == 200
    serving.kill()
    assert check(file, told) == 0


@needs_strace
async def test_every_answer_waits_for_a_slow_disk_and_nobody_else_does(tmp_path: Path) -> None:
    """A flush that takes its time holds up its own answers; a page that reads is answered all the while."""
    told = Told()
    serving = Serving(tmp_path / "log.sqlite")
    async with phones(serving, told) as crew, injected(serving.pid, "fdatasync:delay_enter=2000000"):
        slow = asyncio.create_task(crew.text("json-slow-1", TEXT))
        await asyncio.sleep(0.3)
        assert await crew.health() and not slow.done()
        assert await slow == 200
    serving.kill()
    assert check(tmp_path / "log.sqlite", told) == 0


@needs_strace
async def test_the_disk_is_flushed_between_the_write_and_the_answer(tmp_path: Path) -> None:
    """The order of system calls: no answer leaves before the log's last write was flushed."""
    told, trace = Told(), tmp_path / "trace"
    serving = Serving(tmp_path / "log.sqlite")
    async with phones(serving, told) as crew:
        await crew.text("json-warm-0", TEXT)
        calls = "trace=fdatasync,pwrite64,sendto,write,writev,sendmsg"
        strace = subprocess.Popen(["strace", "-f", "-qq", "-y", "-s", "16", "-o", trace, "-e", calls,
                                   "-p", str(serving.pid)])  # fmt: skip
        await asyncio.sleep(0.5)
        for n in range(1, 21):
            assert await crew.text(f"json-order-{n}", TEXT) == 200
        strace.terminate()
        strace.wait()
    serving.kill()
    flushed, answers = True, 0
    for line in trace.read_text().splitlines():
        if "pwrite64(" in line and "log.sqlite-wal" in line:
            flushed = False
        elif "fdatasync" in line and line.endswith("= 0"):
            flushed = True
        elif "HTTP/1.1 200" in line:
            answers += 1
            assert flushed, line
    assert answers == 20


@needs_root
async def test_a_full_disk_that_grows_again(tmp_path: Path) -> None:
    told = Told()
    with mounted(tmp_path / "small", "-t", "tmpfs", "-o", "size=1200k", "none") as place:
        file = place / "log.sqlite"
        serving = Serving(file)
        async with phones(serving, told) as crew:
            for n in range(400):
                if await crew.text(f"json-full-{n}", f"{TEXT} and " + "mud " * 100) == 503:
                    break
            assert told.refused, "the disk never filled"
            (refused,) = told.open
            assert await crew.text(refused, told.sent[refused]) == 503
            assert await crew.health()
            subprocess.run(["mount", "-o", "remount,size=16m", place], check=True)
            assert await crew.text(refused, told.sent[refused]) == 200
        serving.kill()
        assert check(file, told) == 0


@needs_root
async def test_a_copy_is_brought_back_after_a_disk_was_full(tmp_path: Path) -> None:
    told, copy = Told(), tmp_path / "copy.sqlite"
    with mounted(tmp_path / "small", "-t", "tmpfs", "-o", "size=1500k", "none") as place:
        file = place / "log.sqlite"
        serving = Serving(file)
        async with phones(serving, told) as crew:
            assert await crew.text("json-copied-1", TEXT) == 200
            assert main(["backup", str(copy), "--db", str(file)]) == 0
            for n in range(400):
                if await crew.text(f"json-full-{n}", f"{TEXT} and " + "mud " * 100) == 503:
                    break
            assert told.refused, "the disk never filled"
            serving.kill()
        assert main(["restore", str(copy), "--db", str(file)]) == 2  # never over a log
        old = tmp_path / "old"
        old.mkdir()
        for each in place.glob("log.sqlite*"):
            shutil.move(each, old)
        assert main(["restore", str(copy), "--db", str(file)]) == 0
        again = Serving(file)
        async with phones(again, told) as crew:
            assert await crew.text("json-copied-1", TEXT) == 200  # the answer that it had
            assert await crew.text("json-after-1", TEXT) == 200
        again.kill()
        assert main(["log", "verify", "--db", str(file)]) == 0
    assert main(["log", "verify", "--db", str(old / "log.sqlite")]) == 0


async def test_a_log_that_another_process_holds(tmp_path: Path) -> None:
    file, told = tmp_path / "log.sqlite", Told()
    serving = Serving(file)
    async with phones(serving, told) as crew:
        other = sqlite3.connect(file, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        waiting = asyncio.create_task(crew.text("json-locked-1", TEXT))
        await asyncio.sleep(0.2)
        assert await crew.health()
        assert await waiting == 503  # after five seconds
        other.execute("ROLLBACK")
        other.close()
        assert await crew.text("json-locked-1", TEXT) == 200
    serving.kill()
    assert check(file, told) == 0
