"""What the service holds in memory as texts come in: `python tests/bench/memory.py --texts 100000`.

So many trenches take turns; the size of the process is printed after each tenth of the texts.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from talk import Talk

from bot.config.basis import Basis

SAID = (
    "ladder in",
    "all units set all at 40 bar",
    "spoil back 1.5m",
    "no water",
    "dug to 1.6",
    "air test ok",
)
PAGE_KB = os.sysconf("SC_PAGE_SIZE") / 1024


def held_mb() -> float:
    """Resident memory of this process."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * PAGE_KB / 1024


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--texts", type=int, default=10_000)
    arguments.add_argument("--trenches", type=int, default=60)
    told = arguments.parse_args()
    place = tempfile.TemporaryDirectory()
    talk = Talk(Basis.load(), file=Path(place.name) / "log.sqlite")
    talk.store.db.execute("PRAGMA synchronous = OFF")  # what the disk takes is measured elsewhere
    owners = [("F" if n % 2 else "R", f"T{n}") for n in range(1, told.trenches + 1)]
    for who, ref in owners:
        talk.say(who, f"{ref} depth 1.6 width 0.9 length 6 firm clay dry", minutes=0.01)
    begun, every = time.process_time(), max(1, told.texts // 10)
    print(f"{held_mb():.0f} MB with {told.trenches} trenches sized")
    for n in range(1, told.texts + 1):
        who, ref = owners[n % len(owners)]
        talk.say(who, f"{ref} {SAID[n // len(owners) % len(SAID)]}", minutes=0.01)
        if n % every == 0:
            now = time.process_time()
            print(f"{n}: {held_mb():.0f} MB, {(now - begun) / every * 1000:.1f} ms a text", flush=True)
            begun = now
    talk.close()
    place.cleanup()


if __name__ == "__main__":
    main()
