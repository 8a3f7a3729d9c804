"""The power is cut under the whole service: what was answered before is on the disk.

kill -9 cannot show this, since the kernel still writes what the process left to it. Here the file system is
shut down without a flush (`xfs_io -x -c shutdown`). FAULT_CUTS says how many cuts. The same cut must find
out a log that is not flushed, and a writer that answers too early: the test can fail.
"""

import asyncio
import os
import shutil
import sqlite3
import subprocess
from pathlib import Path

import pytest
from mounts import mounted
from serving import Serving, Told, check, phones

pytestmark = [
    pytest.mark.faults,
    pytest.mark.skipif(
        os.geteuid() != 0 or shutil.which("xfs_io") is None, reason="needs root, and apt-get install xfsprogs"
    ),
]
CUTS = int(os.environ.get("FAULT_CUTS", "2"))


async def cut(folder: Path, cuts: int, synchronous: str = "FULL", hasty: bool = False) -> tuple[int, int]:
    """Cut the power under the whole service, again and again: how many texts were answered, how many lost."""
    image, told = folder / "disk", Told()
    with image.open("wb") as raw:
        raw.truncate(320 * 1024 * 1024)
    subprocess.run(["mkfs.xfs", "-q", "-f", image], check=True)
    for round in range(cuts):
        with mounted(folder / "place", "-o", "loop", str(image)) as place:
            serving = Serving(place / "log.sqlite", synchronous, hasty)
            async with phones(serving, told) as crew:
                load = asyncio.create_task(crew.burst(f"r{round}"))
                enough = len(told.acked) + 100
                while len(told.acked) < enough:
                    await asyncio.sleep(0.01)
                # An answer that comes while the power goes may or may not count; these do.
                certain = dict(told.acked)
                await asyncio.to_thread(subprocess.run, ["xfs_io", "-x", "-c", "shutdown", place], check=True)
                serving.kill()
                await load
            told.acked = certain
    with mounted(folder / "place", "-o", "loop", str(image)) as place:
        try:
            return len(told.acked), check(place / "log.sqlite", told)
        except sqlite3.DatabaseError:
            return len(told.acked), len(told.acked)  # nothing of it can be read any more


async def test_a_power_cut_loses_nothing_that_was_answered(tmp_path: Path) -> None:
    answered, lost = await cut(tmp_path, CUTS)
    print(f"{CUTS} power cuts, {answered} answered, {lost} lost")
    assert (answered >= 100 * CUTS, lost) == (True, 0)


@pytest.mark.parametrize(("synchronous", "hasty"), [("OFF", False), ("FULL", True)])
async def test_the_same_cut_finds_out_a_missing_flush_and_an_early_answer(
    tmp_path: Path, synchronous: str, hasty: bool
) -> None:
    answered, lost = await cut(tmp_path, 1, synchronous, hasty)
    print(f"synchronous={synchronous} early={hasty}: {answered} answered, {lost} lost")
    assert lost > 0
