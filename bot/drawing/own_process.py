"""A file of ours run as a process of its own, for libraries that would hold up the service's threads."""

import subprocess
import sys
from contextlib import ExitStack
from threading import Timer


class NotDone(Exception):  # noqa: N818 - it says what is lacking
    """It ended without a result, or not in time."""


def result_of(file: str, given: bytes, within_s: float) -> bytes:
    """What the file writes when it is handed `given`; call it on a thread. Raises NotDone."""
    command = [sys.executable, "-I", file]
    with ExitStack() as until:
        try:
            # A timer instead of communicate(timeout=...), which sleeps and looks again and again.
            process = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
            )
            until.enter_context(process)
            timer = Timer(within_s, process.kill)
            timer.start()
            until.callback(timer.cancel)
            made, error = process.communicate(given)
        except OSError as failed:
            raise NotDone(type(failed).__name__) from failed
    if process.returncode or not made:
        raise NotDone(error[-300:].decode("utf-8", "replace") or f"ended with {process.returncode}")
    return made
