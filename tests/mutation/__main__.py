"""Mutation testing of the rooms that people stand next to: `python tests/mutation sizing --sample 200`.

One thing is changed in one file, and the tests of its room must fail. What no test notices is printed: each
such mutant either changes no answer, or lacks a test. It takes hours for all of them, so it is no part of
CI, and a sample is drawn with its seed. See DEVELOPERS.md for the last figures.
"""

import argparse
import importlib
import os
import random
import resource
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from mutants import Mutant, in_code, in_hazards, installed

HERE = Path(__file__).resolve().parents[2]
# Nobody reads how a test failed: that something did is all that is asked.
PLAIN = ("-x", "-q", "--tb=no", "--assert=plain", "-p", "no:cacheprovider", "-p", "no:randomly")
CPU_S = 300  # what takes longer runs in circles, and counts as noticed

# In the order in which they are tried: most mutants are noticed by the first, which take least.
SIZING_TESTS = (
    ("test_worked_by_hand", "test_layout", "test_beside"),
    ("test_sizing_formulas", "test_bearing", "test_turned", "test_sizing_services", "test_supplier_table"),
    ("test_sizing_us", "test_load_list", "test_sizing_published", "test_surcharge", "test_ranked_checks"),
    ("test_by_hand", "test_props", "test_sheet", "test_once_wrong", "test_outside_libraries"),
    ("test_sizing_practice", "test_layout_optimum"),
    ("test_second_opinion", "test_sizing_properties"),
    ("test_fine_grid", "test_holds", "test_never_lighter"),
)
ENTRY_TESTS = (
    ("tests/entry/test_entry.py", "tests/entry/test_next_step.py", "tests/entry/test_inspection.py"),
    ("tests/entry/test_due.py", "tests/entry/test_steps.py", "tests/entry/test_entry_rules.py"),
    ("tests/record", "tests/entry", "tests/dialogue"),
)
ROOMS = {
    "sizing": ("knowledge/sizing", [[f"tests/sizing/{name}.py" for name in each] for each in SIZING_TESTS]),
    "entry": ("knowledge/entry", [list(each) for each in ENTRY_TESTS]),
    "hazards": ("", [list(each) for each in ENTRY_TESTS]),
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
    found = list(_mutants(told.room, folder, told.only))
    drawn = random.Random(told.seed).sample(found, min(told.sample or len(found), len(found)))
    tests = [[path for path in each if Path(path).exists()] for each in tests]
    _prepared(told.room)
    survived = []
    for number, made in enumerate(drawn, 1):
        mutant = made()
        if not _noticed(mutant, tests):
            survived.append(mutant)
            print(f"SURVIVED {mutant}", flush=True)
        if number % 10 == 0:
            print(f"{number} of {len(drawn)}: {number - len(survived)} noticed", flush=True)
    share = 100 * (1 - len(survived) / len(drawn))
    print(f"{told.room}: {len(drawn)} of {len(found)} mutants, {share:.1f} % noticed")
    return 0


def _mutants(room: str, folder: str, only: str) -> Iterator[Callable[[], Mutant]]:
    if room == "hazards":
        yield from in_hazards(HERE / "knowledge" / "data" / "hazards.toml")
        return
    for file in sorted((HERE / folder).glob("*.py")):
        if only in file.name:
            yield from in_code(file.relative_to(HERE))


def _prepared(room: str) -> None:
    """Import and load once what no mutant of the room changes: each is tried in a fork of this process."""
    for name in ("hypothesis", "numpy", "pint", "pydantic", "pytest", "scipy.optimize"):
        importlib.import_module(name)
    if room == "hazards":
        return
    from knowledge.tables import load

    read = load.load
    tables = read()
    load.load = lambda folder=None, *more: read(folder, *more) if folder else tables  # type: ignore[assignment]


def _noticed(mutant: Mutant, tests: list[list[str]]) -> bool:
    """Whether a test fails with it."""
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
                code = next((failed for each in tests if (failed := _failed(each))), 0)
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)
    if os.WEXITSTATUS(status) in (pytest.ExitCode.NO_TESTS_COLLECTED, pytest.ExitCode.USAGE_ERROR):
        raise LookupError(f"tests are not there any more: {tests}")
    return os.WEXITSTATUS(status) != 0


def _failed(tests: list[str]) -> int:
    return int(pytest.main([*PLAIN, *tests]))


if __name__ == "__main__":
    sys.exit(main())
