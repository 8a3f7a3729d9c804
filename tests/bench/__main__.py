"""Measures this service beside others in one run on this machine, and writes what it found.

    python tests/bench [--only road reading sizing house] [--rounds N] [--exchanges N ...] [--out FOLDER]

`--out` (build/bench) gets `results.json` and `results.md`; a release keeps the latter in CHANGELOG.md.
The whole takes half an hour and 8 GB; `--exchanges 10000 100000` leaves the long log out. Let nothing else
run: a service that computes gets less of a busy machine than a handler that mostly waits.
"""

import argparse
import json
import os
import platform
import sqlite3
import sys
import tempfile
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), *(str(HERE.parent / name) for name in ("support", "sizing")), str(HERE.parents[1])]

from table import Row, markdown  # noqa: E402

TITLES = {
    "road": "Whole road: signature, reading, sizing, reply, log on the disk",
    "reading": "Reading",
    "sizing": "Sizing and layout",
    "house": "Office, memory, start, disk",
}


def main() -> None:
    args = _args()
    args.out.mkdir(parents=True, exist_ok=True)
    found: dict[str, list[Row]] = {}
    with tempfile.TemporaryDirectory(prefix="trenchword-bench-", dir=args.folder) as folder:
        parts = _parts(args, Path(folder))
        for name in args.only:
            found[name] = parts[name]()
            print(markdown(TITLES[name], found[name]), flush=True)
    machine = f"{os.cpu_count()} cores, Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}"
    rows = {name: [asdict(row) for row in each] for name, each in found.items()}
    text = json.dumps({"machine": machine, "load": os.getloadavg(), **rows}, ensure_ascii=False, indent=1)
    (args.out / "results.json").write_text(text, encoding="utf-8")
    tables = [markdown(TITLES[name], each) for name, each in found.items()]
    (args.out / "results.md").write_text("\n".join([f"{machine}.\n", *tables]), encoding="utf-8")


def _args() -> argparse.Namespace:
    command = argparse.ArgumentParser(prog="python tests/bench")
    command.add_argument("--only", nargs="+", choices=TITLES, default=list(TITLES))
    command.add_argument("--rounds", type=int, default=5, help="of the whole road")
    command.add_argument(
        "--beside", type=Path, help="another checkout, whose service is put on the road in the same rounds"
    )
    command.add_argument("--exchanges", type=int, nargs="+", default=[10_000, 100_000, 1_000_000])
    command.add_argument(
        "--folder", type=Path, help="where the databases are made: on the disk to be measured"
    )
    command.add_argument("--out", type=Path, default=Path("build/bench"))
    return command.parse_args()


def _parts(args: argparse.Namespace, folder: Path) -> dict[str, Callable[[], list[Row]]]:
    def road() -> list[Row]:
        import road

        return road.measure(folder, args.rounds, args.beside)

    def reading() -> list[Row]:
        import extractors

        return extractors.measure()

    def sizing() -> list[Row]:
        import sizing

        return sizing.measure()

    def house() -> list[Row]:
        import house

        return house.measure(folder, args.exchanges)

    return {"road": road, "reading": reading, "sizing": sizing, "house": house}


if __name__ == "__main__":
    main()
