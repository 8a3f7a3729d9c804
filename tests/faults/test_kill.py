"""kill -9 at random moments under load: every answered exchange is on the log once, as it was answered.

FAULT_ROUNDS says how many kills (1,000 for a release). The same test with a writer that answers too early
must lose some: it can fail.
"""

import asyncio
import os
import random
from pathlib import Path

import pytest
from serving import Phones, Serving, Told, check, phones

ROUNDS = int(os.environ.get("FAULT_ROUNDS", "20"))
ROUNDS_A_FILE = 50  # then a fresh one, so that checking the whole chain stays quick

pytestmark = pytest.mark.faults


async def killed(file: Path, told: Told, name: str, chance: random.Random, hasty: bool = False) -> None:
    """Start, ask again about what is open, text, and kill at a random moment of it."""
    serving = Serving(file, hasty=hasty)
    async with phones(serving, told) as crew:
        if not hasty:
            await _again(crew, told, chance)
        load = asyncio.create_task(crew.burst(name))
        await asyncio.sleep(chance.uniform(0.0, 0.25))
        await asyncio.to_thread(serving.kill)
        await load


async def _again(crew: Phones, told: Told, chance: random.Random) -> None:
    """A gateway that had no answer sends the text again; one whose answer was lost on the way too."""
    answered = chance.sample(sorted(told.acked), min(5, len(told.acked)))
    for id in [*sorted(told.open)[:10], *answered]:
        assert await crew.text(id, told.sent[id]) == 200


async def test_every_answered_exchange_survives(tmp_path: Path) -> None:
    chance = random.Random(7)
    answered, cut_off = 0, 0
    for first in range(0, ROUNDS, ROUNDS_A_FILE):
        file, told = tmp_path / f"{first}.sqlite", Told()
        for round in range(first, min(first + ROUNDS_A_FILE, ROUNDS)):
            await killed(file, told, f"r{round}", chance)
            cut_off += bool(told.open)
        assert check(file, told) == 0
        answered += len(told.acked)
        file.unlink()
    print(f"{ROUNDS} kills, {cut_off} of them with texts on the way, {answered} answered, 0 lost")
    assert answered > ROUNDS and cut_off > ROUNDS / 2


async def test_a_writer_that_answers_too_early_is_found_out(tmp_path: Path) -> None:
    chance, told = random.Random(7), Told()
    for round in range(10):
        await killed(tmp_path / "log.sqlite", told, f"r{round}", chance, hasty=True)
    assert check(tmp_path / "log.sqlite", told) > 0
