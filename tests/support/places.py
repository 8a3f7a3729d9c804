"""Whether a place that a table names exists: a key of a data file, a name in a module, a test."""

import ast
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
DATA = ROOT / "knowledge" / "data"


def exists(place: str) -> bool:
    """`rules.toml#rule.ladder`, `knowledge/sizing/row.py`, `knowledge/sizing/row.py::Run` or a test."""
    file, hash_, key = place.partition("#")
    if hash_:
        return (DATA / file).is_file() and _has(_toml(DATA / file), key)
    file, colons, name = place.partition("::")
    return (ROOT / file).is_file() and (not colons or name in _names(ROOT / file))


def _has(table: Any, key: str) -> bool:
    """Whether a dotted key is there; a part of the key may hold blanks ("hazard.plant close")."""
    for part in key.split("."):
        if not isinstance(table, dict) or part not in table:
            return False
        table = table[part]
    return True


@cache
def _toml(file: Path) -> dict[str, Any]:
    return tomllib.loads(file.read_text(encoding="utf-8"))


@cache
def _names(file: Path) -> frozenset[str]:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    named = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
    found = {node.name for node in tree.body if isinstance(node, named)}
    for node in tree.body:
        if isinstance(node, ast.Assign):
            found |= {target.id for target in node.targets if isinstance(target, ast.Name)}
    return frozenset(found)
