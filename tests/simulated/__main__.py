"""Live simulated sites: `python tests/simulated --days 1000`; with `--seed 17` it shows one again.

Each site of a seed lives three days. What fails is printed with its seed and step, and ends the run; the same
seed fails at the same step.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS / "support"), str(TESTS.parent)]

from simulated_site import Broken, SimulatedSite, bases, remember_sizes  # noqa: E402

DAYS = 3  # that one site lives


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--days", type=int, default=300, help="site-days to live")
    arguments.add_argument("--first", type=int, default=1, help="the first seed")
    arguments.add_argument("--minutes", type=float, help="end after so long, whatever is left")
    arguments.add_argument("--seed", type=int, help="show this one seed, step by step")
    arguments.add_argument("--on", action="store_true", help="go on after a seed that failed")
    told = arguments.parse_args()
    in_force = bases()
    remember_sizes()
    begun, spent, seen, failed = time.monotonic(), time.process_time(), Counter[str](), 0
    shm = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=shm if shm.is_dir() else None) as place:
        seeds = [told.seed] if told.seed is not None else range(told.first, told.first + told.days // DAYS)
        lived = 0
        for seed in seeds:
            site = SimulatedSite(seed, in_force, Path(place), print if told.seed is not None else None)
            try:
                site.live(DAYS)
            except Broken as broken:
                failed += 1
                print(f"BROKEN {broken}\n  again: python tests/simulated --seed {seed}", flush=True)
                if not told.on:
                    break
            finally:
                site.close()
            seen.update(site.seen | {"texts": site.steps})
            lived += DAYS
            if lived % 300 == 0:
                print(f"{lived} site-days", flush=True)
            if told.minutes and time.monotonic() - begun > told.minutes * 60:
                break
    took, cpu = time.monotonic() - begun, time.process_time() - spent
    print(
        f"{lived} site-days, {failed} broken, {dict(seen)}, {took:.0f} s, {cpu:.0f} s of CPU,"
        f" {lived / max(cpu, 1e-9) * 60:.0f} site-days a minute of CPU"
    )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
