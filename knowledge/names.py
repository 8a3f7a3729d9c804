"""The names that the data files give, in the order that the files give them: soils, hazards, facts of entry.

Whoever adds one adds a row to its file, and nothing here. The files are read as they came with the program:
what the office saves over them changes figures and sentences, never which names there are.
"""

from pathlib import Path
from typing import Any

from knowledge.sourced import DataError, read_document

DATA = Path(__file__).parent / "data"


def _section(file: str, key: str) -> Any:
    found = read_document(DATA / file).get(key)
    if not found:
        raise DataError(f"{file}: {key}: the section is missing")
    return found


def _each_once(file: str, key: str, name: str) -> tuple[str, ...]:
    """What the rows of a section give as `name`, each once, in their order."""
    rows = _section(file, key)
    every = rows.values() if isinstance(rows, dict) else rows
    return tuple(dict.fromkeys(row[name] for row in every if name in row))


HAZARDS: tuple[str, ...] = tuple(_section("hazards.toml", "hazard"))
"""Worst first."""

ENTRY_FACTS = _each_once("entry.toml", "fact", "fact")
"""Worst first."""

DONE: tuple[str, ...] = tuple(_section("entry.toml", "done"))
"""What a text can tell is done."""

SOIL_KINDS = _each_once("soils.toml", "ground", "kind")
SOIL_STATES = _each_once("soils.toml", "ground", "state")

GROUNDS: tuple[tuple[str, str | None], ...] = tuple(
    (row["kind"], row.get("state")) for row in _section("soils.toml", "ground")
)
"""Kind and state of every described ground, weakest first."""

STATES_OF: dict[str, tuple[str, ...]] = {
    kind: states
    for kind in SOIL_KINDS
    if (states := tuple(state for each, state in GROUNDS if each == kind and state))
}
"""The states that a kind is told with, weakest first; kinds that need none are not here."""
