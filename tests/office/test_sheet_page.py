"""The calculation sheet on paper: everything that an engineer checks, and room to initial it."""

import html
import json
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from office_visit import Office, running
from shipped import shipped

from bot.storage import log

BASIS = shipped()
MAIN = "T1 depth 1.6 width 0.9 length 6 firm clay, no slab, dry, ends battered, spoil 1.2 m back"


@pytest.fixture
async def inside(tmp_path: Path) -> AsyncIterator[Office]:
    async with running(tmp_path / "sheet.sqlite", BASIS) as served:
        assert await served.sign_in() == 200
        yield served


async def test_it_has_every_line_verdict_and_place_to_initial(inside: Office) -> None:
    number = await inside.text(MAIN)
    text = html.unescape(await inside.page(f"/office/exchange/{number}/sheet"))
    row = log.exchange(inside.db, number)
    assert row is not None
    sheet = json.loads(row["outcome"])["sheet"]
    front, working = text.split('<section class="working">')
    for line in sheet:
        assert line["name"] in working and line["source"] in working and line["part"] in working
        assert line["figures"] in working
    checks = [line for line in sheet if line["holds"] is not None]
    assert len(checks) > 8 and front.count("holds (") == len(checks)
    for line in checks:
        assert f"{line['formula']}: {line['figures']}" in front
    for said in (
        "12, at most 1 m apart",
        "0.45 m (6), 1.15 m (6)",
        "0.75, 1.45, 1.6 m",
        "28 to 51 bar",
        row["stamp"],
    ):
        assert said in front
    for initialled in ("Design check, category", "Temporary works coordinator", "Permit to load"):
        assert initialled in front
    assert "It permits no entry" in front and "<svg" in front


async def test_a_refusal_says_so_and_asks_nobody_to_set_anything(inside: Office) -> None:
    number = await inside.text(
        "T2 depth 1.8 width 0.9 length 6 firm clay, house foundation 1 m from the edge"
    )
    text = await inside.page(f"/office/exchange/{number}/sheet")
    assert "inside the line of influence" in text and "these shores are not set here" in text
    assert "Permit to load" not in text and "<svg" not in text


async def test_what_was_not_sized_has_no_sheet(inside: Office) -> None:
    await inside.text(MAIN)
    number = await inside.text("T1 ladder in")
    assert (await inside.get(f"/office/exchange/{number}/sheet"))[0] == 404
    assert (await inside.get("/office/exchange/999/sheet"))[0] == 404


async def test_an_answer_that_comes_out_otherwise_today_is_marked_and_not_drawn(inside: Office) -> None:
    number = await inside.text(MAIN)
    inside.store.db.execute("DROP TRIGGER turns_hold")
    changed = "outcome = json_set(outcome, '$.spacing_m', 9.9)"
    inside.store.db.execute(f"UPDATE turns SET {changed} WHERE exchange = ?", [number])
    text = await inside.page(f"/office/exchange/{number}/sheet")
    assert "comes out otherwise" in text.replace("figure comes", "comes") and "<svg" not in text
    assert "9.9 m apart" in text, "the answer as it was given"


async def test_a_sheet_from_before_lines_had_names_is_still_shown(inside: Office) -> None:
    number = await inside.text(MAIN)
    old = [
        {
            "symbol": "p",
            "formula": "w × H",
            "figures": "7 × 1.6",
            "value": 11.2,
            "unit": "kPa",
            "source": "App C",
        }
    ]
    inside.store.db.execute("DROP TRIGGER turns_hold")
    inside.store.db.execute(
        "UPDATE turns SET outcome = json_set(outcome, '$.sheet', json(?)) WHERE exchange = ?",
        [json.dumps(old), number],
    )
    text = await inside.page(f"/office/exchange/{number}/sheet")
    assert "11.2 kPa" in text and "App C" in text
