"""Whole texts, from words to decision: what an engineer tries first. tests/cases/tried_first.toml."""

import tomllib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from bot.config.basis import Basis
from bot.config.people import People
from bot.dialogue.context import Context
from bot.dialogue.conversation import converse
from bot.message import Message, Person, Reply, Site, Turn
from knowledge.outcome import Ask, Outcome, Sized, Stop

CASES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parents[1] / "cases" / "tried_first.toml").read_text(encoding="utf-8")
)["case"]
AT = datetime(2026, 3, 4, 9, tzinfo=UTC)
SUPERVISOR = Person("+447700900000", "Sol", "supervisor", "Elm Street")


def decided(text: str, basis: Basis, rulebook: str = "uk", kit: str | None = None) -> Outcome:
    return turn(text, basis, rulebook, kit).outcome


def answered(text: str, basis: Basis) -> Reply:
    return turn(text, basis).reply


def turn(text: str, basis: Basis, rulebook: str = "uk", kit: str | None = None) -> Turn:
    site = Site(SUPERVISOR.site, rulebook=rulebook, kit=kit)  # type: ignore[arg-type]
    context = Context(AT, SUPERVISOR, site, thread=None, trenches={}, people=People([SUPERVISOR], [site]))
    message = Message(id="1", channel="ask", sender=SUPERVISOR.number, text=text, sent_at=AT, received_at=AT)
    return converse(message, context, basis.tables, basis.readers, basis.catalogs)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["text"])
def test_a_text_is_decided_as_an_engineer_would(case: dict[str, Any], basis: Basis) -> None:
    found = decided(case["text"], basis, case.get("rulebook", "uk"), case.get("kit"))
    assert found.kind == case["kind"], found
    if isinstance(found, Stop):
        assert [refusal.rule for refusal in found.stop] == case["stop"]
    if isinstance(found, Ask):
        assert found.questions[0] == case["asks"]
    if isinstance(found, Sized):
        borne = next(line.value for line in reversed(found.sheet.lines) if line.symbol == "R_b")
        assert found.strut.load_kn <= min(found.strut.capacity_kn, borne) + 1e-9
        assert len(found.levels) <= case.get("levels_most", 2)
        assert len(set(found.stages_m)) >= len(found.levels)
        count = found.units if found.units is not None else found.units_per_run
        low, high = case["units"]
        assert count is not None and low <= count <= high
        assert set(case.get("cautions", [])) <= {caution.id for caution in found.cautions}


def test_a_dig_is_told_once_where_the_last_level_is_set_from_the_bottom(basis: Basis) -> None:
    text = answered("depth 0.6 width 0.6 length 6 stiff clay dry", basis).text
    assert text.count("to 0.6 m") == 1


def test_what_presses_beside_the_trench_is_never_answered_as_if_it_were_not_there(basis: Basis) -> None:
    """The same fourteen units came for a foundation, a building, a wall, a railway, piling, a slope and a
    crane beside the trench; traffic added nothing."""
    plain = decided("1.6 deep 0.9 wide 6 long firm clay no slab", basis)
    assert isinstance(plain, Sized)
    for beside in ("live traffic 1 m from the edge", "ground slopes 1 in 8", "digger of 5 t 1 m off"):
        found = decided(f"1.4 deep 0.9 wide 6 long stiff clay no slab, {beside}", basis)
        bare = decided("1.4 deep 0.9 wide 6 long stiff clay no slab", basis)
        assert isinstance(bare, Sized)
        assert isinstance(found, Stop) or (
            isinstance(found, Sized) and found.pressure_kpa > bare.pressure_kpa
        )
