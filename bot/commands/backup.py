"""`trenchword backup`: a copy of the log, whole and checked, while the service runs."""

import argparse
import os
import sqlite3
from pathlib import Path

from bot.commands import Commands, UsageError
from bot.commands.log import existing
from bot.config import revisions
from bot.config.settings import Settings
from bot.storage import log
from bot.storage.turns import make_private


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("backup", help="copy the log to a file, while the service runs")
    command.add_argument("file", type=Path, metavar="FILE")
    command.add_argument("--db", type=Path, default=Settings().db, metavar="FILE")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Copy, check the copy, and only then give it its name."""
    chain = copied(existing(args.db), args.file)
    print(f"{args.file}: {chain.turns} exchanges, head {chain.head}")
    return 0


def copied(source: Path, target: Path) -> log.ChainCheck:
    """Copy a database whole. Raises UsageError where the copy is not whole; then no file is left behind."""
    part = target.with_name(target.name + ".part")
    try:
        make_private(part)
        reading, writing = log.open_to_read(source), sqlite3.connect(part)
        try:
            reading.conn.backup(writing)
            # One file, with nothing beside it that could be left behind.
            writing.execute("PRAGMA journal_mode = DELETE").fetchall()
        finally:
            reading.close()
            writing.close()
        checked = log.open_to_read(part)
        chain, saved = log.verify(checked), revisions.verify(checked)
        checked.close()
        if saved.broken_at is not None:
            raise UsageError(f"{source}: broken at change {saved.broken_at}: {saved.why}")
        if chain.broken_at is not None:
            raise UsageError(f"{source}: broken at exchange {chain.broken_at}: {chain.why}")
        with part.open("rb") as file:
            os.fsync(file.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return chain
