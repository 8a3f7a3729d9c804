"""What is changed: one comparison, sign, number, word of logic or choice at a time; or one row of data.

Left alone: what only prints or names (decorators, texts, docstrings, errors), and the noise that floats are
compared with. A comparison that allows for noise is turned round and not moved by its edge, since no answer
hangs on that edge.
"""

import ast
import importlib.abc
import importlib.machinery
import sys
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

SWAPPED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
EDGE: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
}
TURNED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any", "ceil": "floor", "floor": "ceil"}
CALLS |= {"round_up": "round_down", "round_down": "round_up"}
NOISES = ("_NOISE", "NOISE", "SLACK")


@dataclass(frozen=True, order=True)
class Mutant:
    """A file with one thing changed in it: where, and from what to what. `text` is the whole of it."""

    file: str
    line: int
    change: str
    text: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.change}"


def in_code(file: Path) -> Iterator[Callable[[], Mutant]]:
    """What makes each mutant of one Python file."""
    source = file.read_text(encoding="utf-8")
    for number in range(len(list(_places(ast.parse(source))))):
        yield partial(_made, file, source, number)


def _made(file: Path, source: str, number: int) -> Mutant:
    tree = ast.parse(source)
    node, change = list(_places(tree))[number]
    before, line = ast.unparse(node), node.lineno  # type: ignore[attr-defined]
    change()
    return Mutant(str(file), line, f"{before} -> {ast.unparse(node)}", ast.unparse(tree))


def _places(tree: ast.Module) -> Iterator[tuple[ast.AST, Callable[[], None]]]:
    """Each node that can be changed, with what changes it."""
    for node in _walked(tree):
        if isinstance(node, ast.Compare):
            yield from _compared(node)
        elif isinstance(node, ast.BinOp) and _named(node.right, NOISES):
            continue
        elif isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in SWAPPED:
            yield node, _set(node, "op", SWAPPED[type(node.op)]())
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLS:
            yield node, _set(node.func, "id", CALLS[node.func.id])
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield node, _set(node, "operand", ast.UnaryOp(ast.Not(), node.operand))
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            if abs(node.value) > 1e-5 or node.value == 0:
                yield node, _set(node, "value", node.value + 1)
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            yield node, _set(node, "value", not node.value)
        elif isinstance(node, ast.If | ast.IfExp) and not isinstance(node.test, ast.Compare | ast.BoolOp):
            yield node.test, _negated(node)


def _walked(node: ast.AST) -> Iterator[ast.AST]:
    """The tree without what only names or prints."""
    yield node
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list") or isinstance(node, ast.Raise | ast.Assert):
            continue
        if isinstance(node, ast.keyword) and node.arg == "strict":
            continue  # of zip: it only checks
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.Import | ast.ImportFrom):
                yield from _walked(child)


def _compared(node: ast.Compare) -> Iterator[tuple[ast.AST, Callable[[], None]]]:
    noisy = any(_named(n, NOISES) for n in ast.walk(node))
    noisy |= any(isinstance(n, ast.Constant) and n.value == 1e-9 for n in ast.walk(node))
    for at, op in enumerate(node.ops):
        if not noisy and type(op) in EDGE:
            yield node, _put(node.ops, at, EDGE[type(op)]())
        if type(op) in TURNED:
            yield node, _put(node.ops, at, TURNED[type(op)]())


def _named(node: ast.AST, names: tuple[str, ...]) -> bool:
    return isinstance(node, ast.Name) and node.id in names


def _set(node: Any, name: str, value: Any) -> Callable[[], None]:
    return lambda: setattr(node, name, value)


def _put(place: list[Any], at: int, value: Any) -> Callable[[], None]:
    def put() -> None:
        place[at] = value

    return put


def _negated(node: ast.If | ast.IfExp) -> Callable[[], None]:
    return lambda: setattr(node, "test", ast.UnaryOp(ast.Not(), node.test))


def in_hazards(file: Path) -> Iterator[Callable[[], Mutant]]:
    """What makes each mutant of the hazards: see `_hazards`."""
    for mutant in _hazards(file):
        yield lambda mutant=mutant: mutant  # type: ignore[misc]


def _hazards(file: Path) -> Iterator[Mutant]:
    """Of each hazard: what it says of the air, of the order, and of what must be told anew, left out or
    turned round; and two neighbours in another order of danger."""
    source = file.read_text(encoding="utf-8")
    lines = source.splitlines(keepends=True)
    for at, line in enumerate(lines):
        key = line.split(" = ")[0].strip()
        if key in ("air", "before_all"):
            yield _row(file, lines, at, line.replace("true", "false"))
        elif key == "again":
            told = tomllib.loads(line)["again"]
            for one in told:
                rest = ", ".join(f'"{each}"' for each in told if each != one)
                yield _row(file, lines, at, f"again = [{rest}]\n")
        elif key == "instead":
            yield _row(file, lines, at, "")
    heads = [at for at, line in enumerate(lines) if line.startswith("[hazard.")]
    for a, b in pairwise(heads):
        end = next((at for at in heads if at > b), len(lines))
        text = "".join([*lines[:a], *lines[b:end], *lines[a:b], *lines[end:]])
        yield Mutant(_short(file), a + 1, f"{lines[a].strip()} below {lines[b].strip()}", text)


def _row(file: Path, lines: list[str], at: int, now: str) -> Mutant:
    text = "".join([*lines[:at], now, *lines[at + 1 :]])
    return Mutant(_short(file), at + 1, f"{lines[at].strip()} -> {now.strip() or 'nothing'}", text)


def _short(file: Path) -> str:
    return "/".join(file.parts[file.parts.index("knowledge") :])


def installed(mutant: Mutant, place: Path) -> None:
    """Put a mutant in the place of the file: nothing of the program may be imported before."""
    if mutant.file.endswith(".toml"):
        _read_instead(mutant)
        return
    changed = place / Path(mutant.file).name
    changed.write_text(mutant.text, encoding="utf-8")
    name = mutant.file.removesuffix(".py").replace("/", ".")
    sys.meta_path.insert(0, _Instead(name, changed))


class _Instead(importlib.abc.MetaPathFinder):
    """Finds one module in another file, so that its source can be read there too: sheets print it."""

    def __init__(self, name: str, file: Path) -> None:
        self.name, self.file = name, file

    def find_spec(self, name: str, path: Any, target: Any = None) -> importlib.machinery.ModuleSpec | None:
        if name != self.name:
            return None
        loader = importlib.machinery.SourceFileLoader(name, str(self.file))
        return importlib.machinery.ModuleSpec(name, loader, origin=str(self.file))


def _read_instead(mutant: Mutant) -> None:
    """Whoever reads the data file reads the mutant's text."""
    read = Path.read_text

    def instead(self: Path, *args: Any, **more: Any) -> str:
        own = str(self).endswith(mutant.file)
        return mutant.text if own else read(self, *args, **more)

    Path.read_text = instead  # type: ignore[method-assign]
