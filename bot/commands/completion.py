"""`trenchword completion`: what a shell needs to complete the commands and flags.

It is written once and then costs nothing, where asking the program at each key would start it each time.
"""

import argparse
from collections.abc import Iterator
from pathlib import Path

import shtab

from bot.commands import Commands, parser


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("completion", help="print what a shell needs to complete commands")
    command.add_argument("shell", choices=shtab.SUPPORTED_SHELLS)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the shell's script."""
    whole = parser()
    for action in _actions(whole):
        if action.type is Path:
            action.complete = shtab.FILE  # type: ignore[attr-defined]
    print(shtab.complete(whole, args.shell))
    return 0


def _actions(command: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    for action in command._actions:
        yield action
        if isinstance(action, argparse._SubParsersAction):
            for each in action.choices.values():
                yield from _actions(each)
