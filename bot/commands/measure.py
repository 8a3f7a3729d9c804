"""`trenchword measure`: how many messages of a labelled file are read right."""

from pathlib import Path

from bot.terminal import Commands


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("measure", help="compare readings with a labelled file")
    command.add_argument("file", type=Path, metavar="FILE")
    command.add_argument("--json", action="store_true")
    command.set_defaults(run=run)
