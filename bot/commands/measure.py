"""`trenchword measure`: how many messages of a labelled file are read right."""

import argparse
import json
from pathlib import Path

from bot.books import Books
from bot.commands.terminal import Commands
from bot.reading.measure import measure


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("measure", help="compare readings with a labelled file")
    command.add_argument("file", type=Path, metavar="FILE")
    command.add_argument("--json", action="store_true")
    command.set_defaults(run=run)
