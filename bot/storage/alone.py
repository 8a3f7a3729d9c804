"""One service on one file: two would give two answers under one number."""

import sqlite3
from pathlib import Path

BESIDE = ("-wal", "-shm", "-journal")
"""What SQLite keeps beside a file, and reads as a part of it: a log is moved with these or not at all."""


class InUse(OSError):  # noqa: N818 - it says how things are
    """Another service writes this file."""


class Alone:
    """Held while a service runs on `file`; the system lets go of it however the service ends.

    A database of its own beside the file, since SQLite locks that in the same way on every system. Raises
    InUse, or sqlite3.OperationalError where no lock can be made there.
    """

    def __init__(self, file: Path) -> None:
        self._held = sqlite3.connect(f"{file}.lock", isolation_level=None, timeout=0, check_same_thread=False)
        try:
            self._held.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            self._held.close()
            if error.sqlite_errorcode == sqlite3.SQLITE_BUSY:
                raise InUse(f"{file}: another service runs on it") from None
            raise

    def end(self) -> None:
        """Let go."""
        self._held.close()

    def __enter__(self) -> "Alone":
        return self

    def __exit__(self, *_: object) -> None:
        self.end()
