"""`trenchword erase`: take a person's words, or all words before a day, off the record."""

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path

from bot.commands import Commands, UsageError
from bot.commands.log import existing
from bot.config.settings import Settings
from bot.erasure import erase_before, erase_person
from bot.storage.turns import Store


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser(
        "erase", help="erase the text of messages; the chain of the log stays whole"
    )
    what = command.add_mutually_exclusive_group(required=True)
    what.add_argument("--number", help="all that this number said and was told")
    what.add_argument("--before", metavar="DAY", help="all that was said before this day, as 2026-11-25")
    command.add_argument("--db", type=Path, default=Settings().db, metavar="FILE")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Erase, and say how many exchanges that was."""
    if args.number is not None and not args.number.strip():
        raise UsageError("erase: whose number?")
    store = Store(existing(args.db))
    try:
        # What is erased must not stay in free pages, in the index of words, or in the write-ahead log.
        store.db.execute("PRAGMA secure_delete = ON")
        with store.transaction():
            if args.number is not None:
                erased = erase_person(store.db, args.number)
            else:
                erased = erase_before(store.db, _day(args.before))
        store.db.table("turns").optimize()
        settled = store.settled()
    finally:
        store.close()
    print(f"{erased} exchanges have lost their words.")
    if not settled:
        print(
            f"trenchword: somebody else reads the log: the words may still stand in {args.db}-wal until that"
            " ends. Erase again then, or stop the service.",
            file=sys.stderr,
        )
        return 1
    return 0


def _day(given: str) -> datetime:
    try:
        return datetime.strptime(given, "%Y-%m-%d").replace(tzinfo=UTC)
    except ValueError:
        raise UsageError(f"erase: {given!r} is not a day, as 2026-11-25") from None
