"""Whether simulated sites find faults: `python tests/simulated/seeded_faults.py`; hours of no use to CI.

Each fault of `seeded_faults.toml` is put into a copy of the code, on which sites are lived until one breaks.
What none of them finds is printed: it does no harm, or the simulator does not look there.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
COPIED = ("bot", "knowledge", "tests/support", "tests/simulated", "tests/cases")


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--days", type=int, default=300, help="site-days lived on each fault at most")
    arguments.add_argument("--only", default="", help="faults in whose words this stands")
    arguments.add_argument("--first", type=int, default=0, help="begin with this one")
    told = arguments.parse_args()
    faults = tomllib.loads((HERE / "seeded_faults.toml").read_text(encoding="utf-8"))["fault"][told.first :]
    faults = [fault for fault in faults if told.only in fault["what"]]
    found = 0
    for fault in faults:
        why = _tried(fault, told.days)
        found += bool(why)
        print(f"{'found' if why else 'NOT FOUND'}: {fault['what']}{': ' if why else ''}{why}", flush=True)
    print(f"{found} of {len(faults)} found")
    return 0 if found == len(faults) else 1


def _tried(fault: dict[str, str], days: int) -> str:
    """How it was found, "" where it was not. Raises LookupError where it does not fit the code."""
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place)
        for part in COPIED:
            shutil.copytree(ROOT / part, copy / part, ignore=shutil.ignore_patterns("__pycache__"))
        file = copy / fault["file"]
        text = file.read_text(encoding="utf-8")
        if text.count(fault["old"]) != 1:
            raise LookupError(f"{fault['what']}: not once in {fault['file']}: {fault['old']!r}")
        file.write_text(text.replace(fault["old"], fault["new"]), encoding="utf-8")
        ran = subprocess.run(
            [sys.executable, "tests/simulated", "--days", str(days)],
            cwd=copy,
            env=os.environ | {"PYTHONPATH": str(copy)},
            capture_output=True,
            text=True,
        )
    if ran.returncode == 0:
        return ""
    lines = (ran.stdout if "BROKEN" in ran.stdout else ran.stderr).strip().splitlines()
    return next((line for line in lines if line.startswith("BROKEN")), lines[-1])[:150]


if __name__ == "__main__":
    sys.exit(main())
