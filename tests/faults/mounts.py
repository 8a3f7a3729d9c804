"""File systems of the tests' own."""

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def mounted(place: Path, *how: str) -> Iterator[Path]:
    """A file system mounted for a while; skips where that may not be done."""
    place.mkdir(exist_ok=True)
    done = subprocess.run(["mount", *how, place], capture_output=True, text=True)
    if done.returncode:
        pytest.skip(f"cannot mount here: {done.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", place], capture_output=True)
