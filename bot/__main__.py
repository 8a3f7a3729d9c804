"""The command line: `trenchword COMMAND`, one file a command in `bot/commands/`."""

import os
import signal
import sqlite3
import sys
from collections.abc import Sequence

from bot.commands import UsageError, parser
from bot.config.settings import SettingsError
from bot.demo.chat_file import ChatError
from knowledge.sourced import DataError

CUT_OFF = 128 + signal.SIGPIPE
"""The exit code that a shell gives a program whose reader has gone."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command. 0 when it did what was asked, 1 when what it checked does not hold, 2 on an error.

    Where whoever reads the output has gone (`| head`), it ends quietly with CUT_OFF.
    """
    try:
        return _run(sys.argv[1:] if argv is None else argv)
    except BrokenPipeError:
        # What is still waiting to be written would be tried again, and fail again, when Python ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CUT_OFF
    except (UsageError, SettingsError, DataError, ChatError, OSError, sqlite3.Error) as error:
        print(f"trenchword: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130


def _run(argv: Sequence[str]) -> int:
    try:
        args = parser(argv).parse_args(argv)
        return int(args.run(args))
    finally:
        sys.stdout.flush()  # while a reader who has gone can still be told from an error


if __name__ == "__main__":
    sys.exit(main())
