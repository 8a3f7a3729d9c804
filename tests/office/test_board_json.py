"""The open trenches for a company's own board: behind a token, ranked as on the first page, naming nobody."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from office_visit import ALEX, SAM, Office, running
from shipped import shipped

from bot.web.openapi import BOARD, BoardTrenches

TOKEN = "a token of forty signs, made for the board"
SAID = (
    (SAM, "T1 depth 1.2 width 0.9 length 4 firm clay dry"),
    (SAM, "T2 depth 3.4 width 0.9 length 6 soft clay standing water"),
    (SAM, "T3 depth 1.4 width 0.8 length 5 stiff clay dry"),
    (SAM, "T3 2 units set, dug to 0.6"),
    (SAM, "T3 crack opening along the top"),
    (ALEX, "T1 inspected ok"),
)


@pytest.fixture
async def office(tmp_path: Path) -> AsyncIterator[Office]:
    async with running(tmp_path / "log.sqlite", shipped(), board=TOKEN) as served:
        yield served


async def ask(office: Office, authorization: str) -> tuple[int, str]:
    headers = {"Authorization": authorization} if authorization else {}
    async with office.http.get(office.url + BOARD, headers=headers) as response:
        assert response.headers["Cache-Control"] == "no-store"
        return response.status, await response.text()


async def test_the_board_shows_what_the_first_page_does_and_names_nobody(office: Office) -> None:
    for who, text in SAID:
        await office.text(text, who)
    status, text = await ask(office, f"Bearer {TOKEN}")
    assert status == 200
    told = BoardTrenches.model_validate_json(text)
    assert [(each.trench, each.state) for each in told.trenches] == [
        ("T3", "hazard"),
        ("T2", "stop"),
        ("T1", "no"),
    ]
    worst = told.trenches[0]
    assert (worst.facts[0], worst.dug_m, worst.planned_m, worst.units_set) == ("open hazard", 0.6, 1.4, 2)
    assert told.trenches[2].inspected_at and told.trenches[2].let_in_until is None
    for personal in (SAM, ALEX, "Sam", "Alex", "opening"):
        assert personal not in text


async def test_without_the_token_nothing_is_shown(office: Office) -> None:
    for given in ("", "Bearer", "Bearer ", "Bearer wrong", f"Basic {TOKEN}", TOKEN, "Bearer é"):
        assert await ask(office, given) == (401, '{"error":"the token is needed"}')


async def test_it_is_described_where_it_is_served_and_nowhere_else(office: Office, tmp_path: Path) -> None:
    async def described(visit: Office) -> bool:
        async with visit.http.get(visit.url + "/openapi.json") as response:
            return BOARD in (await response.json())["paths"]

    assert await described(office)
    async with running(tmp_path / "other.sqlite", shipped()) as bare:
        assert not await described(bare)
        async with bare.http.get(bare.url + BOARD) as response:
            assert response.status == 404
