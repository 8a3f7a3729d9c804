"""`trenchword backup`: copies of the log, whole and checked, while the service runs."""

import argparse
import os
import select
import signal
import socket
import sqlite3
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from bot.commands import Commands, UsageError, progress
from bot.commands.log import existing
from bot.config import revisions
from bot.config.settings import Settings
from bot.storage import log, pictures
from bot.storage.alone import BESIDE
from bot.storage.turns import make_private

NAMED = "log-%Y%m%dT%H%M%SZ.sqlite"  # of a copy in a directory: by name is by time
COPIES = "log-*.sqlite"
PAGES = 4096  # copied at a time, mostly of 4 KiB


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("backup", help="copy the log to a file, while the service runs")
    command.add_argument("file", type=Path, metavar="FILE", help="with --every: the directory of the copies")
    command.add_argument("--every", type=_minutes, metavar="MINUTES", help="copy again and again")
    command.add_argument(
        "--keep", type=_whole_number, metavar="N", help="with --every: the newest N copies stay"
    )
    command.add_argument("--db", type=Path, default=Settings().db, metavar="FILE")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Copy, check the copy, and only then give it its name."""
    if args.every is None:
        if args.keep is not None:
            raise UsageError("backup: --keep goes with --every")
        print(_told(args.file, copied(existing(args.db), args.file)))
        return 0
    # A signal leaves a byte, whichever thread it meets and whenever: none comes between a look and the wait.
    ended, told = socket.socketpair()
    told.setblocking(False)
    signal.set_wakeup_fd(told.fileno())
    for each in (signal.SIGINT, signal.SIGTERM):
        signal.signal(each, lambda *_: None)

    def wait(seconds: float) -> bool:
        return bool(select.select([ended], [], [], seconds)[0])

    return again_and_again(args.db, args.file, args.every * 60, args.keep, wait)


def again_and_again(
    source: Path, directory: Path, every_s: float, keep: int | None, wait: Callable[[float], bool]
) -> int:
    """Copies into a directory until `wait` says that it is enough. One that fails is said, and tried again at
    its next time: 1 where the last one failed."""
    directory.mkdir(mode=0o700, parents=True, exist_ok=True)
    while True:
        failed = 0
        try:
            target = directory / datetime.now(UTC).strftime(NAMED)
            print(_told(target, copied(existing(source), target)), flush=True)
            for old in copies(directory)[:-keep] if keep else []:
                old.unlink()
        except (UsageError, OSError, sqlite3.Error) as error:
            failed = 1
            print(f"trenchword: {error}", file=sys.stderr, flush=True)
        if wait(every_s):
            return failed


def copies(directory: Path) -> list[Path]:
    """The copies in a directory, the newest last."""
    return sorted(directory.glob(COPIES))


def copied(source: Path, target: Path) -> log.ChainCheck:
    """Copy a database whole. Raises UsageError where the copy is not whole; then no file is left behind."""
    for beside in BESIDE:
        if Path(f"{target}{beside}").exists():
            raise UsageError(f"{target}{beside} belongs to a log that was there: move it away with that log")
    if target.exists() and target.samefile(source):
        raise UsageError(f"{target} is what is to be copied")
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)  # of a copy that was killed
    try:
        make_private(part)
        reading, writing = log.open_to_read(source), sqlite3.connect(part)
        try:
            # One state of the log, however long it takes: else each new exchange would begin the copy anew.
            reading.execute("BEGIN")
            reading.execute("SELECT 1 FROM turns LIMIT 1").fetchall()
            with progress("Copying") as tell:
                reading.conn.backup(writing, pages=PAGES, progress=lambda _, left, of: tell(of - left, of))
            reading.execute("ROLLBACK")
            # One file, with nothing beside it that could be left behind.
            writing.execute("PRAGMA journal_mode = DELETE").fetchall()
        finally:
            reading.close()
            writing.close()
        checked = log.open_to_read(part)
        with progress("Checking the copy") as tell:
            chain, saved, seen = (
                log.verify(checked, tell),
                revisions.verify(checked),
                pictures.verify(checked),
            )
        checked.close()
        if saved.broken_at is not None:
            raise UsageError(f"{source}: broken at change {saved.broken_at}: {saved.why}")
        if seen.broken_at is not None:
            raise UsageError(f"{source}: broken at picture {seen.broken_at}: {seen.why}")
        if chain.broken_at is not None:
            raise UsageError(f"{source}: broken at exchange {chain.broken_at}: {chain.why}")
        with part.open("rb") as file:
            os.fsync(file.fileno())
        part.replace(target)
        _flush_names(target.parent)
    finally:
        part.unlink(missing_ok=True)
    return chain


def _flush_names(directory: Path) -> None:
    """Have the new name of a file on the disk, where the system knows how."""
    if os.name == "posix":
        at = os.open(directory, os.O_RDONLY)
        try:
            os.fsync(at)
        finally:
            os.close(at)


def _told(target: Path, chain: log.ChainCheck) -> str:
    return f"{target}: {chain.turns} exchanges, head {chain.head}"


def _minutes(given: str) -> float:
    if not 0 < (minutes := float(given)) <= 60 * 24 * 366:
        raise ValueError
    return minutes


def _whole_number(given: str) -> int:
    if (count := int(given)) < 1:
        raise ValueError
    return count
