"""Some sites of the simulator, at every change: see `python tests/simulated` for many."""

import os
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from simulated_site import Broken, SimulatedSite, bases, remember_sizes

from knowledge.entry import missing

SEEDS = int(os.environ.get("SIMULATED_SITES", "64"))
DAYS = 3
PARTS = 4  # that are lived beside one another
Bases = list[tuple[Any, Any]]


@pytest.fixture(scope="module")
def in_force() -> Bases:
    return bases()


def lived(seed: int, in_force: Bases, folder: Path) -> Counter[str]:
    site = SimulatedSite(seed, in_force, folder)
    try:
        site.live(DAYS)
    finally:
        site.close()
    return Counter(site.seen)


@pytest.mark.parametrize("part", range(PARTS))
def test_what_must_hold_holds_at_every_step(
    in_force: Bases, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, part: int
) -> None:
    remember_sizes(monkeypatch.setattr)
    seeds = range(1 + part, SEEDS + 1, PARTS)
    seen = sum((lived(seed, in_force, tmp_path) for seed in seeds), Counter[str]())
    # Nor are they days on which nothing could go wrong: people were let in, danger told, the process killed.
    assert min(seen[what] for what in ("may", "leave", "alarms", "kills")) > len(seeds), seen


def broken(seed: int, in_force: Bases, folder: Path) -> str:
    """What a site of this seed is broken by, "" for nothing."""
    try:
        lived(seed, in_force, folder)
    except Broken as found:
        return str(found)
    return ""


def test_a_seed_that_fails_fails_again_at_the_same_step(
    in_force: Bases, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(missing._FACTS, "stopped", lambda context, rule: iter(()))
    failed = ((seed, broken(seed, in_force, tmp_path)) for seed in range(1, 50))
    seed, why = next((seed, why) for seed, why in failed if why)
    assert broken(seed, in_force, tmp_path) == why


def test_every_seeded_fault_fits_the_code_as_it_stands() -> None:
    here = Path(__file__).resolve().parent
    faults = tomllib.loads((here / "seeded_faults.toml").read_text(encoding="utf-8"))["fault"]
    text = {
        file: (here.parents[1] / file).read_text(encoding="utf-8") for file in {f["file"] for f in faults}
    }
    assert [fault["what"] for fault in faults if text[fault["file"]].count(fault["old"]) != 1] == []
