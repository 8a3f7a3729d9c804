"""`trenchword read`: what a message is understood to say. Nothing is answered and nothing kept."""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path

from bot.commands import Commands, UsageError
from bot.commands.log import basis_of
from knowledge.reading import Reading


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("read", help="show what a message is understood to say")
    command.add_argument("text", nargs="?", metavar="TEXT")
    command.add_argument("--lines", metavar="FILE", help='one {"text": "..."} a line; - for standard input')
    command.add_argument("--json", action="store_true", help="one JSON object a line")
    command.add_argument("--db", type=Path, metavar="FILE", help="use the changes saved in this database")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the reading of one text, or of each line of a file in order."""
    if (args.text is None) == (args.lines is None):
        raise UsageError("read: give either a TEXT or --lines FILE")
    readers = basis_of(args.db).readers
    for text in [args.text] if args.lines is None else _texts(args.lines):
        reading = readers.read(text).reading
        print(json.dumps(reading.public(), ensure_ascii=False) if args.json else plain(reading))
    return 0


def plain(reading: Reading) -> str:
    """A reading as lines for people."""
    return "\n".join(
        f"{name}: {value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)}"
        for name, value in reading.public().items()
    )


def _texts(name: str) -> Iterator[str]:
    if name == "-":
        yield from _parsed(name, sys.stdin)
    else:
        with Path(name).open(encoding="utf-8") as lines:
            yield from _parsed(name, lines)


def _parsed(name: str, lines: Iterator[str]) -> Iterator[str]:
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            text = json.loads(line)["text"]
        except (ValueError, TypeError, KeyError):
            text = None
        if not isinstance(text, str):
            raise UsageError(f'{name} line {number}: not a {{"text": "..."}}')
        yield text
