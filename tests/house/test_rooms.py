"""Every room and every channel stands under a contract, and the contracts hold what they say."""

import ast
import re
import shutil
import subprocess
import sys
import tomllib
from collections import defaultdict
from fnmatch import fnmatch
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from bot.channels.base import all_channels

ROOT = Path(__file__).parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
CONTRACTS: list[dict[str, Any]] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))[
    "tool"
]["importlinter"]["contracts"]


def rooms(package: str) -> set[str]:
    """The folders with code in them, and the files that stand beside them."""
    return {each.stem for each in (ROOT / package).glob("*.py")} - {"__init__"} | {
        each.name for each in (ROOT / package).iterdir() if any(each.rglob("*.py"))
    }


def modules() -> dict[str, ast.Module]:
    files = [file for package in ("bot", "knowledge") for file in sorted((ROOT / package).rglob("*.py"))]
    return {
        ".".join(file.relative_to(ROOT).with_suffix("").parts): ast.parse(file.read_text("utf-8"))
        for file in files
    }


@pytest.mark.parametrize("package", ["bot", "knowledge"])
def test_every_room_has_its_layer(package: str) -> None:
    contract = next(each for each in CONTRACTS if each.get("containers") == [package])
    named = [room.strip() for layer in contract["layers"] for room in layer.split("|")]
    assert contract["exhaustive"] and sorted(named) == sorted(rooms(package))


def test_every_channel_is_kept_from_the_others() -> None:
    contract = next(each for each in CONTRACTS if each["type"] == "independence")
    shared = {"bot.channels.base", "bot.channels.segments"}
    assert {line.split(" -> ")[1] for line in contract["ignore_imports"]} == shared
    for name in all_channels():
        module = f"bot.channels.{name}"
        assert module not in shared and any(fnmatch(module, pattern) for pattern in contract["modules"])


@pytest.mark.parametrize(
    ("file", "line", "broken"),
    [
        ("bot/channels/kannel.py", "import bot.channels.json", "channels never see each other"),
        ("bot/channels/kannel.py", "import time", "channels do no I/O"),
        ("bot/drawing/svg.py", "import bot.web.metrics", "rooms of the bot"),
        ("bot/drawing/svg.py", "import sqlite3", "drawings see neither"),
        ("bot/dialogue/answers/size.py", "import aiohttp", "decisions see neither"),
        ("bot/dialogue/answers/size.py", "import bot.config.in_force", "decisions see neither"),
        ("bot/dialogue/replies.py", "import bot.dialogue.answers.size", "the road sees the answers"),
        ("bot/reading/read.py", "import bot.storage.turns", "decisions see neither"),
        ("bot/storage/turns.py", "import bot.dialogue.conversation", "decide nothing"),
        ("bot/config/people.py", "import aiohttp", "speak HTTP"),
        ("knowledge/units.py", "import bot.message", "knowledge never reaches back"),
        ("knowledge/units.py", "import random", "knowledge has no network"),
        ("knowledge/tables/load.py", "import knowledge.sizing.size", "rooms of knowledge"),
        ("bot/attic/__init__.py", "", "rooms of the bot"),
    ],
)
def test_what_breaks_a_fence_is_found(tmp_path: Path, file: str, line: str, broken: str) -> None:
    for package in ("bot", "knowledge"):
        shutil.copytree(
            ROOT / package, tmp_path / package, ignore=shutil.ignore_patterns("*.toml", "__pycache__")
        )
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    (tmp_path / file).parent.mkdir(exist_ok=True)
    with (tmp_path / file).open("a", encoding="utf-8") as text:
        text.write(f"\n{line}\n")
    lint = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run(
        [lint, "--no-cache"], cwd=tmp_path, env={"PYTHONPATH": str(tmp_path)}, capture_output=True, text=True
    )
    assert done.returncode == 1
    assert any(broken in told and "BROKEN" in told for told in done.stdout.splitlines()), done.stdout


def test_no_public_type_has_a_namesake() -> None:
    where: dict[str, set[str]] = defaultdict(set)
    for module, tree in modules().items():
        for name in types_of(tree):
            where[name].add(module)
    assert not {name: sorted(found_in) for name, found_in in where.items() if len(found_in) > 1}


def types_of(tree: ast.Module) -> set[str]:
    """Public classes and aliases of types that a module defines."""
    names = {node.name for node in tree.body if isinstance(node, ast.ClassDef)}
    for node in tree.body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and is_type(node.value):
            names.add(node.targets[0].id)
        elif isinstance(node, ast.AnnAssign) and ast.unparse(node.annotation) == "TypeAlias":
            names.add(ast.unparse(node.target))
    return {name for name in names if not name.startswith("_")}


def is_type(value: ast.expr) -> bool:
    """Whether an expression reads as a type: `Literal["m"]`, `tuple[int, int]`, `Amount | str | None`."""
    if isinstance(value, ast.BinOp) and isinstance(value.op, ast.BitOr):
        return is_type(value.left)
    if isinstance(value, ast.Subscript):
        value = value.value
    builtin = ("bool", "bytes", "dict", "float", "frozenset", "int", "list", "set", "str", "tuple", "type")
    return isinstance(value, ast.Name) and (
        value.id in builtin or (not value.id.isupper() and value.id[0].isupper())
    )


@pytest.mark.parametrize(
    "text", ["class Gauge: ...", 'Gauge = Literal["bar"]', "Gauge = Level | None", "Gauge = tuple[int, int]"]
)
def test_a_namesake_would_be_found(text: str) -> None:
    assert types_of(ast.parse(text)) == {"Gauge"}


@pytest.mark.parametrize("text", ["class _Gauge: ...", "GAUGE = 3", "GAUGE = TABLE[0]", "def Gauge(): ..."])
def test_what_is_no_public_type_may_have_a_namesake(text: str) -> None:
    assert not types_of(ast.parse(text))


def test_each_room_is_listed_with_what_it_is_for() -> None:
    opening = DEVELOPERS.partition("\n## The road")[0]
    for package in ("bot", "knowledge"):
        for room in rooms(package) - {"__main__"}:
            told = (import_module(f"{package}.{room}").__doc__ or "").partition("\n")[0]
            path = f"{package}/{room}/" if (ROOT / package / room).is_dir() else f"{package}/{room}.py"
            assert f"| `{path}` | {told} |" in opening, path


def test_every_place_named_is_there() -> None:
    named = set(re.findall(r"`((?:bot|knowledge|tests|demo_chats)/[\w./]*)`", DEVELOPERS))
    assert named and not sorted(path for path in named if not (ROOT / path).exists())


def test_the_glossary_is_in_order_and_has_each_word_once() -> None:
    rows = DEVELOPERS.partition("\n## Our words")[2].partition("\n## ")[0]
    words = re.findall(r"^\| ([a-z][^|]*) \|", rows, re.M)[1:]  # the first row is the heading
    assert len(words) > 40 and words == sorted(set(words))
