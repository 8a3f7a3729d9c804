"""The supplier's table beside our own working, in both rulebooks: 652(c)(2) and BS 5975-1:2024 12.10 (R1)."""

from typing import Any

import pytest
from trenches import TABLES, told

from knowledge.outcome import Ask, Sized, Stop
from knowledge.sizing.size import size
from knowledge.tables.kit import Kit
from knowledge.tables.load import Tables

BOOKS = [("uk", "light"), ("us", "light"), ("us", "heavy")]
ROWS: tuple[dict[str, Any], ...] = (
    {"soil": "B", "depth_m": 1.2, "width_m": 0.9, "spacing_m": 1.0, "levels": 1},
    {"soil": "B", "depth_m": 1.6, "width_m": 0.9, "spacing_m": 0.9, "levels": 2},
    {"soil": "B", "depth_m": 1.6, "width_m": 1.2, "spacing_m": 0.85, "levels": 2},
)


def with_rows(kit: str, *rows: dict[str, Any]) -> Tables:
    """The tables with an invented supplier's table in a kit."""
    whole = TABLES.kits[kit].model_dump()
    whole["table"]["row"] = rows
    return TABLES.model_copy(update={"kits": {**TABLES.kits, kit: Kit.model_validate(whole)}})


def ask(book: str, kit: str, depth: float, width: float, *rows: dict[str, Any]) -> Ask | Stop | Sized:
    details = told(depth, width, "firm clay", length_m=6, water="dry", ends="battered")
    return size(details, with_rows(kit, *(rows or ROWS)), book, kit)  # type: ignore[arg-type]


# Inside, at the edges and just past them: a value between two rows takes the harder one.
INSIDE = [
    (1.0, 0.8, 1.0),
    (1.2, 0.9, 1.0),
    (1.21, 0.9, 0.9),
    (1.6, 0.9, 0.9),
    (1.6, 0.91, 0.85),
    (1.6, 1.2, 0.85),
]


@pytest.mark.parametrize(("book", "kit"), BOOKS)
@pytest.mark.parametrize(("depth", "width", "spacing"), INSIDE)
def test_the_harder_row_governs(book: str, kit: str, depth: float, width: float, spacing: float) -> None:
    found = ask(book, kit, depth, width)
    assert isinstance(found, Sized)
    assert found.spacing_m == spacing
    if spacing < 1.0:
        assert found.governed_by == "table"
        assert "table-governs" in {c.id for c in found.cautions}


@pytest.mark.parametrize(("book", "kit"), BOOKS)
@pytest.mark.parametrize(("depth", "width"), [(1.61, 0.9), (1.6, 1.21), (1.0, 1.3)])
def test_outside_it_is_a_stop_that_says_so(book: str, kit: str, depth: float, width: float) -> None:
    found = ask(book, kit, depth, width)
    assert isinstance(found, Stop)
    assert [r.rule for r in found.stop] == ["outside-table"]


@pytest.mark.parametrize(("book", "kit"), BOOKS)
def test_a_looser_table_does_not_loosen_our_own_working(book: str, kit: str) -> None:
    loose = {"soil": "B", "depth_m": 2.0, "width_m": 1.5, "spacing_m": 2.4, "levels": 1}
    bare = TABLES.kits[kit].model_copy(
        update={"table": None, "approved_by": TABLES.kits[kit].table.approved_by}
    )  # type: ignore[union-attr]
    own = size(
        told(1.6, 0.9, "firm clay", length_m=6, water="dry", ends="battered"),
        TABLES.model_copy(update={"kits": {**TABLES.kits, kit: bare}}),
        book,  # type: ignore[arg-type]
        kit,
    )
    found = ask(book, kit, 1.6, 0.9, loose)
    assert isinstance(found, Sized) and isinstance(own, Sized)
    assert found.governed_by == own.governed_by == "working"
    assert (found.spacing_m, found.units) == (own.spacing_m, own.units)
    assert "table-governs" not in {c.id for c in found.cautions}


def test_a_table_that_wants_more_levels_gets_them() -> None:
    found = ask("uk", "light", 1.2, 0.9, {**ROWS[0], "levels": 2})
    assert isinstance(found, Sized)
    assert (len(found.levels), found.governed_by) == (2, "table")


def test_more_levels_than_fit_yet_are_a_stop_that_names_the_depth() -> None:
    found = ask("uk", "light", 1.0, 0.9, {**ROWS[0], "levels": 2})
    assert isinstance(found, Stop)
    assert [r.rule for r in found.stop] == ["levels-do-not-fit"]
    assert "1.11 m" in found.stop[0].say


def test_only_the_struts_that_it_names_are_used() -> None:
    free = ask("uk", "light", 1.0, 0.9, ROWS[0])
    found = ask("uk", "light", 1.0, 0.9, {**ROWS[0], "strut": ["long"]})
    assert isinstance(found, Sized) and isinstance(free, Sized)
    assert found.strut.size == "long" != free.strut.size


def test_a_table_that_asks_for_close_sheeting_is_a_stop() -> None:
    found = ask("uk", "light", 1.2, 0.9, {**ROWS[0], "spacing_m": 0.7})
    assert isinstance(found, Stop)


@pytest.mark.parametrize("kit", ["light", "heavy"])
def test_the_invented_tables_say_that_they_are(kit: str) -> None:
    table = TABLES.kits[kit].table
    assert table is not None
    assert "invented" in table.number and "invented" in table.approved_by.name
    assert TABLES.sources.source[table.source].mark == "invented"
