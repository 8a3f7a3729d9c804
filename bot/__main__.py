"""The command line: `trenchword COMMAND`, one file a command in `bot/commands/`."""

import argparse
import sqlite3
import sys
from collections.abc import Sequence
from importlib import import_module
from pkgutil import iter_modules

from bot import commands
from bot.commands import UsageError
from bot.config.settings import SettingsError
from bot.demo.chat_file import ChatError
from knowledge.tables.sourced import DataError


def parser(argv: Sequence[str] = ()) -> argparse.ArgumentParser:
    """The command line: whole, or only the command that `argv` names, since the others take time to load."""
    whole = argparse.ArgumentParser(
        prog="trenchword", description="Answers a trench crew's texts with a sized hydraulic shoring plan."
    )
    found = whole.add_subparsers(metavar="COMMAND", required=True)
    names = [each.name for each in iter_modules(commands.__path__)]
    for name in [name for name in names if name in argv[:1]] or names:
        import_module(f"{commands.__name__}.{name}").add(found)
    return whole


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command. 0 when it did what was asked, 1 when what it checked does not hold, 2 on an error."""
    given = sys.argv[1:] if argv is None else argv
    args = parser(given).parse_args(given)
    try:
        return int(args.run(args))
    except (UsageError, SettingsError, DataError, ChatError, OSError, sqlite3.Error) as error:
        print(f"trenchword: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
