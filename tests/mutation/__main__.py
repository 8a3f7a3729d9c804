"""Mutation testing of the rooms that people stand next to: `python tests/mutation sizing --sample 200`.

One thing is changed in one file, and the tests of its room must fail. What no test notices is printed: each
such mutant either changes no answer, or lacks a test. It takes hours for all of them, so it is no part of
CI, and a sample is drawn with its seed. See DEVELOPERS.md for the last figures.
"""

import argparse
import os
import random
import resource
import signal
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from mutants import Mutant, in_code, in_hazards, installed

HERE = Path(__file__).resolve().parents[2]
CPU_S = 300  # what takes longer runs in circles, and counts as noticed

SIZING_TESTS = (
    *(
        "test_worked_by_hand",
        "test_sizing_formulas",
        "test_beside",
        "test_bearing",
        "test_turned",
        "test_layout",
    ),
    *(
        "test_sizing_services",
        "test_supplier_table",
        "test_sizing_us",
        "test_sizing_practice",
        "test_load_list",
    ),
    *(
        "test_sizing_published",
        "test_surcharge",
        "test_holds",
        "test_ranked_checks",
        "test_gate",
        "test_grid",
    ),
    *("test_never_lighter", "test_second_opinion", "test_sizing_properties"),
)
ROOMS = {
    "sizing": ("knowledge/sizing", [f"tests/sizing/{name}.py" for name in SIZING_TESTS]),
    "entry": ("knowledge/entry", ["tests/entry", "tests/record", "tests/dialogue/test_fails_closed.py"]),
    "hazards": ("", ["tests/entry", "tests/record", "tests/tables", "tests/dialogue/test_fails_closed.py"]),
}


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("room", choices=ROOMS)
    arguments.add_argument("--sample", type=int, help="so many of them, drawn by chance; all where not given")
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--only", default="", help="only files whose name holds this")
    arguments.add_argument("--examples", default="10", help="of each hypothesis property")
    told = arguments.parse_args()
    os.environ["EXAMPLES"] = told.examples
    os.chdir(HERE)
    folder, tests = ROOMS[told.room]
    found = sorted(_mutants(told.room, folder, told.only))
    drawn = random.Random(told.seed).sample(found, min(told.sample or len(found), len(found)))
    tests = [path for path in tests if Path(path).exists()]
    survived = []
    for number, mutant in enumerate(drawn, 1):
        if not _noticed(mutant, tests):
            survived.append(mutant)
            print(f"SURVIVED {mutant}", flush=True)
        if number % 10 == 0:
            print(f"{number} of {len(drawn)}: {number - len(survived)} noticed", flush=True)
    share = 100 * (1 - len(survived) / len(drawn))
    print(f"{told.room}: {len(drawn)} of {len(found)} mutants, {share:.1f} % noticed")
    return 0


def _mutants(room: str, folder: str, only: str) -> Iterator[Mutant]:
    if room == "hazards":
        yield from in_hazards(HERE / "knowledge" / "data" / "hazards.toml")
        return
    for file in sorted((HERE / folder).glob("*.py")):
        if only in file.name:
            yield from in_code(file.relative_to(HERE))


def _noticed(mutant: Mutant, tests: list[str]) -> bool:
    """Whether a test fails with it: in a process of its own, forked once all libraries are there."""
    import hypothesis  # noqa: F401
    import numpy  # noqa: F401
    import pydantic  # noqa: F401
    import pytest

    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, 1)
        os.dup2(nothing, 2)
        code = 3
        try:
            with tempfile.TemporaryDirectory() as place:
                installed(mutant, Path(place))
                options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly", "--no-header"]
                code = int(pytest.main([*options, *tests]))
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)
    if os.WEXITSTATUS(status) == pytest.ExitCode.NO_TESTS_COLLECTED:
        raise LookupError(f"no tests in {', '.join(tests)}")
    return os.WEXITSTATUS(status) != 0


if __name__ == "__main__":
    sys.exit(main())
