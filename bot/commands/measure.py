"""`trenchword measure`: how many messages of a labelled file are read right."""

import argparse
import json
from dataclasses import asdict
from pathlib import Path

from bot.commands import Commands, UsageError, progress, watched
from bot.commands.log import basis_of
from bot.reading.accuracy import measure


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("measure", help="compare readings with a labelled file")
    command.add_argument("file", type=Path, metavar="FILE", help='one {"text": ..., "expect": ...} a line')
    command.add_argument("--json", action="store_true")
    command.add_argument("--db", type=Path, metavar="FILE", help="use the changes saved in this database")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the figures, and each message that was read otherwise than expected."""
    vocabulary = basis_of(args.db).words
    try:
        lines = args.file.read_text(encoding="utf-8").splitlines(keepends=True)
        with progress("Reading") as tell:
            found = measure(watched(lines, len(lines), tell), vocabulary)
    except ValueError as error:
        raise UsageError(f"measure: {args.file.name}: {error}") from None
    print(json.dumps(asdict(found), ensure_ascii=False) if args.json else "\n".join(found.lines()))
    return 0
