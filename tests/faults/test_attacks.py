"""Attacks that went through once, made again on a running service, which is killed and started after each.

Each has its own test in the room where it was mended (DEVELOPERS.md, Attacks); here they meet the whole road.
"""

import asyncio
import json
import time
from collections.abc import AsyncIterator, Callable, Coroutine
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from aiohttp import ClientSession
from serving import SAM, Serving

from bot.commands.serve import PEOPLE
from bot.config.people import People
from bot.storage import log

ALEX, ROBIN = "+447700900124", "+447700900125"
LINES = (
    (SAM, "{ref} depth 1.6 width 0.9 length 6 firm clay"),
    (SAM, "{ref} services located"),
    (SAM, "{ref} all units set all at 40 bar"),
    (SAM, "{ref} dug to 1.6"),
    (SAM, "{ref} ladder in"),
    (SAM, "{ref} spoil back 1.5m"),
    (SAM, "{ref} ends battered"),
    (SAM, "{ref} no water"),
    (SAM, "{ref} air test ok"),
    (ALEX, "{ref} inspected ok"),
)
HOUR = timedelta(hours=1)
pytestmark = pytest.mark.faults


@dataclass
class Street:
    """A service, the phones that text it, and what they were told."""

    file: Path
    http: ClientSession
    serving: Serving
    ids: "count[int]" = field(default_factory=count)

    async def post(self, data: dict[str, Any], **headers: str) -> tuple[int, dict[str, Any]]:
        body = json.dumps(data)
        async with self.http.post(f"{self.serving.url}/hook/json", data=body, headers=headers) as response:
            return response.status, await response.json()

    async def text(
        self, sender: str, text: str, ago: timedelta = timedelta(), id: str = ""
    ) -> dict[str, Any]:
        sent = (datetime.now(UTC) - ago).isoformat()
        name = id or f"attack-{next(self.ids)}"
        status, answer = await self.post({"id": name, "from": sender, "text": text, "sent_at": sent})
        assert status == 200, answer
        return answer

    async def told(self, ref: str) -> "Street":
        """All that a crew tells until nothing is missing."""
        for sender, line in LINES:
            await self.text(sender, line.format(ref=ref))
        assert await self.entry(ref) == "may"
        return self

    async def entry(self, ref: str) -> str:
        answer = await self.text(ALEX, f"may they go in {ref}?")
        return str(answer["outcome"]["entry"])

    def killed(self) -> None:
        self.serving.kill()
        self.serving = Serving(self.file)


@pytest.fixture
async def street(tmp_path: Path) -> AsyncIterator[Street]:
    file = tmp_path / "log.sqlite"
    async with ClientSession() as http:
        made = Street(file, http, Serving(file))
        yield made
        made.serving.kill()
    db = log.open_to_read(file)
    try:
        assert log.verify(db).broken_at is None
    finally:
        db.close()


async def stamped_hours_ago(street: Street) -> None:
    await street.text(SAM, "T7 side slipped", ago=5 * HOUR)
    await street.text(ALEX, "T7 inspected ok", ago=HOUR)


async def stamped_in_the_year_one(street: Street) -> None:
    answer = await street.post(
        {"id": "y1", "from": SAM, "text": "T7 side slipped", "sent_at": "0001-01-01T00:00:00Z"}
    )
    assert "EVERYONE OUT" in answer[1]["reply"]


async def in_the_middle_of_a_long_text(street: Street) -> None:
    before, after = "all quiet here today " * 60, "nothing else to tell " * 60
    await street.text(SAM, f"T7 {before}the side slipped {after}")


async def under_an_id_that_came_before(street: Street) -> None:
    await street.text(SAM, "T7 ladder in", id="same")
    await street.text(SAM, "T7 side slipped", id="same")


async def half_of_an_emoji_beside_it(street: Street) -> None:
    await street.text(SAM, "T7 side slipped \ud83d")


async def at_a_name_like_another(street: Street) -> None:
    await street.text(SAM, "T7 ladder taken out")
    for ref in ("T1000", "T12345", "trench 100", "trench 007x"):
        await street.text(SAM, f"{ref} ladder in")
    await street.text(ALEX, "T1000 inspected ok")


async def from_another_machine(street: Street) -> None:
    await street.text(SAM, "T7 ladder taken out")
    for header in ("X-Real-IP", "X-Forwarded-Proto", "Sec-Fetch-Site"):
        text = {"id": "far", "from": SAM, "text": "T7 ladder in"}
        assert (await street.post(text, **{header: "cross-site"}))[0] == 401


async def behind_two_hundred_looks(street: Street) -> None:
    looks = [asyncio.create_task(street.text(SAM, "status")) for _ in range(200)]
    await asyncio.wait(looks, return_when=asyncio.FIRST_COMPLETED)
    begun = time.monotonic()
    danger = await street.text(ROBIN, "T7 side slipped")
    waited = time.monotonic() - begun
    last = max([answer["exchange"] for answer in await asyncio.gather(*looks)])
    print(f"a hazard behind 200 texts of another number was answered after {waited * 1000:.0f} ms")
    assert danger["exchange"] < last


ATTACKS: tuple[Callable[[Street], Coroutine[Any, Any, None]], ...] = (
    stamped_hours_ago,
    stamped_in_the_year_one,
    in_the_middle_of_a_long_text,
    under_an_id_that_came_before,
    half_of_an_emoji_beside_it,
    at_a_name_like_another,
    from_another_machine,
    behind_two_hundred_looks,
)


@pytest.mark.parametrize("attack", ATTACKS, ids=lambda attack: attack.__name__)
async def test_nobody_goes_in_after_it_nor_after_a_kill(
    street: Street, attack: Callable[[Street], Coroutine[Any, Any, None]]
) -> None:
    assert {SAM, ALEX, ROBIN} <= {person.number for person in People.load(PEOPLE)}
    await street.told("T7")
    await attack(street)
    assert await street.entry("T7") == "no"
    street.killed()
    assert await street.entry("T7") == "no"


async def test_codes_are_not_guessed(street: Street) -> None:
    await street.told("T7")
    wrong = 0
    for guess in range(30):
        await street.text(ALEX, "allow T7")
        wrong += "Wrong" in (await street.text(ALEX, f"T7 code {guess:06}"))["reply"]
        if guess == 10:
            street.killed()  # a lock does not end with the process
    assert wrong <= 3
