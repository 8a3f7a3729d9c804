"""The command line: one file a command; here, what they share."""

import argparse
from collections.abc import Sequence
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]
else:
    Commands = object


class UsageError(Exception):
    """The command cannot do what was asked. The text is one clear line."""


def parser(argv: Sequence[str] = ()) -> argparse.ArgumentParser:
    """The command line: whole, or only the command that `argv` names, since the others take time to load."""
    whole = argparse.ArgumentParser(
        prog="trenchword", description="Answers a trench crew's texts with a sized hydraulic shoring plan."
    )
    found = whole.add_subparsers(metavar="COMMAND", required=True)
    names = [each.name for each in iter_modules(__path__)]
    for name in [name for name in names if name in argv[:1]] or names:
        import_module(f"{__name__}.{name}").add(found)
    return whole
