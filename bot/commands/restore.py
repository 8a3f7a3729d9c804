"""`trenchword restore`: a log from a backup, where there is none."""

import argparse
from pathlib import Path

from bot.commands import Commands, UsageError
from bot.commands.backup import copied, copies
from bot.commands.log import existing
from bot.config.settings import Settings
from bot.storage.alone import Alone


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("restore", help="bring a log back from a backup")
    command.add_argument("file", type=Path, metavar="FILE", help="a directory of copies: the newest of them")
    command.add_argument("--db", type=Path, default=Settings().db, metavar="FILE")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Copy a backup to where no log is: none that is there is written over, nor what lies beside one."""
    source = existing(args.file)
    if source.is_dir():
        found = copies(source)
        if not found:
            raise UsageError(f"restore: there is no copy in {source}")
        source = found[-1]
    with Alone(args.db):
        if args.db.exists():
            raise UsageError(f"restore: {args.db} is there already; move it away first")
        chain = copied(source, args.db)
    print(f"{args.db}: {chain.turns} exchanges, head {chain.head}")
    return 0
