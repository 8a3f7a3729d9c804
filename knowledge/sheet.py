"""The calculation sheet: every step as a line that anyone can work again.

A formula is written once, as a Python function with a single `return`. The printed formula and the
printed figures come from that very expression, so the sheet cannot drift from what was computed.
Lines are only rendered when somebody reads the sheet.
"""

import ast
import inspect
import textwrap
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Generic, ParamSpec, get_type_hints

from knowledge.sourced import Figure, Origin, Rulebook, Sourced
from knowledge.units import on_sheet, printed

P = ParamSpec("P")
_CUT = "\0"
_SIGNS = {ast.Mult: "×", ast.Div: "/", ast.Add: "+", ast.Sub: "-"}
_COMPARE = {ast.LtE: "<=", ast.Lt: "<", ast.GtE: ">=", ast.Gt: ">", ast.Eq: "=="}


@dataclass(slots=True)
class SheetLine:
    """One step: `symbol = formula = figures = value unit`, and where the formula comes from.

    `name` says in words what the symbol is, `part` what of the work it belongs to. A line that was given (a
    fact told, a figure from the tables) has the formula "given" and no figures. A check compares what is
    asked with what is there: its value is the share asked, `holds` its verdict. A symbol stands for one value
    on a sheet, and each that a formula uses has a line.
    Nobody changes a line. It is not frozen: an answer makes fifty, and freezing takes most of their time.
    """

    symbol: str
    formula: str
    figures: str
    value: float
    unit: str
    source: str
    name: str = ""
    holds: bool | None = None
    part: str = ""

    @property
    def verdict(self) -> str:
        """Of a check: whether it holds, and how much of what is there is asked."""
        if self.holds is None:
            return ""
        return f"{'holds' if self.holds else 'DOES NOT HOLD'} ({self.value:.2f})"

    def __str__(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        said = f"{self.name}: " if self.name else ""
        if self.holds is not None:
            return f"{said}{self.formula}: {self.figures}{unit}: {self.verdict}   [{self.source}]"
        middle = f" = {self.figures}" if self.figures else ""
        worked = f"{self.symbol} = {self.formula}{middle} = {on_sheet(self.value)}{unit}"
        return f"{said}{worked}   [{self.source}]"


class Formula(Generic[P]):
    """A formula of the field: callable as plain Python, printable as a line of the sheet."""

    def __init__(self, work: Callable[P, float], symbol: str, source: str, us: str = "") -> None:
        self.work = work
        self.symbol = symbol
        self.source = source
        self.us = us or source
        self._renamed: Mapping[str, str] = {}
        self._named: dict[tuple[Any, ...], Formula[P]] = {}
        self.__doc__ = work.__doc__
        self.__name__ = work.__name__

    def named(self, symbol: str = "", said: str = "", **renamed: str) -> "Formula[P]":
        """The same formula where a sheet uses it again: its own symbol and those put in, renamed."""
        key = (symbol, said, *renamed.items())
        if key not in self._named:
            other = Formula(self.work, symbol or self.symbol, self.source, self.us)
            other._renamed = {**self._renamed, **renamed}
            if said:
                other.said = said
            self._named[key] = other
        return self._named[key]

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> float:
        return self.work(*args, **kwargs)

    @cached_property
    def units(self) -> dict[str, str]:
        """The unit of each symbol, and of the result under "return"."""
        hints = get_type_hints(self.work, include_extras=True)
        return {name: getattr(hint, "__metadata__", ("",))[0] for name, hint in hints.items()}

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(inspect.signature(self.work).parameters)

    @cached_property
    def _pieces(self) -> list[str]:
        """The printed formula cut at its symbols: every second piece is the name of one."""
        tree = ast.parse(textwrap.dedent(inspect.getsource(self.work)))
        body = [s for s in tree.body[0].body if isinstance(s, ast.Return)]  # type: ignore[attr-defined]
        if len(body) != 1 or body[0].value is None:
            raise TypeError(f"formula {self.__name__} must be one return expression")
        return _text(body[0].value).split(_CUT)

    @cached_property
    def _text(self) -> str:
        shown = {"pi": "π", **self._renamed}
        return "".join(shown.get(piece, piece) if at % 2 else piece for at, piece in enumerate(self._pieces))

    @cached_property
    def _blank(self) -> str:
        """The printed formula with a numbered blank for each symbol: "{0} × {1}"."""
        blanks = {name: f"{{{at}}}" for at, name in enumerate(self.names)} | {"pi": "3.14159"}
        return "".join(blanks[piece] if at % 2 else piece for at, piece in enumerate(self._pieces))

    @cached_property
    def _shown(self) -> Callable[[float], str]:
        """How a figure is printed: what is rounded to a step must show on which side of it it lies."""
        return printed if "round_" in self._text else _figure

    @cached_property
    def unit(self) -> str:
        """The unit of the result."""
        return self.units["return"]

    def line(self, args: tuple[Any, ...], value: float, rulebook: Rulebook = "uk") -> SheetLine:
        figures = self._blank.format(*map(self._shown, args))
        source = self.us if rulebook == "us" else self.source
        return SheetLine(self.symbol, self._text, figures, value, self.unit, source, self.said)

    @cached_property
    def said(self) -> str:
        """What the result is, in words: the first paragraph of its docstring."""
        first = inspect.getdoc(self.work) or ""
        return " ".join(first.replace("`", "").split("\n\n")[0].split()).rstrip(".")


def _figure(value: float) -> str:
    text = on_sheet(value)
    return f"({text})" if value < 0 else text


def formula(symbol: str, source: str, us: str = "") -> Callable[[Callable[P, float]], Formula[P]]:
    """Declare a formula: its symbol, its source, and that of the `us` rulebook where it is another."""

    def declare(work: Callable[P, float]) -> Formula[P]:
        return Formula(work, symbol, source, us)

    return declare


def _text(node: ast.expr, outer: int = 0) -> str:
    """The expression as it is printed, each symbol between two cuts.

    `outer` is the binding strength around the node, so that only needed brackets are printed.
    """
    if isinstance(node, ast.BinOp):
        if isinstance(node.op, ast.Pow):
            return f"{_text(node.left, 3)} ^ {_text(node.right, 3)}"
        own = 2 if isinstance(node.op, ast.Mult | ast.Div) else 1
        body = f"{_text(node.left, own)} {_SIGNS[type(node.op)]} {_text(node.right, own + 1)}"
        return f"({body})" if own < outer else body
    if isinstance(node, ast.Name):
        return f"{_CUT}{node.id}{_CUT}"
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        return printed(float(node.value))
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return f"(-{_text(node.operand, 3)})"
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return f"{node.func.id}({', '.join(_text(arg) for arg in node.args)})"
    if isinstance(node, ast.IfExp):
        body = f"{_text(node.body, 1)} if {_text(node.test)} else {_text(node.orelse, 1)}"
        return f"({body})" if outer else body
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        return f"{_text(node.left)} {_COMPARE[type(node.ops[0])]} {_text(node.comparators[0])}"
    raise TypeError(f"a formula cannot hold {ast.dump(node)}")


def _bare(row: Sourced, rulebook: Rulebook) -> str:
    """A source by its key, for a sheet that was made without tables."""
    origin: Origin = row.where(rulebook)
    return f"{origin.source}, {origin.at}" if origin.at else origin.source


@dataclass(slots=True)
class _Given:
    """A figure that was told or read from the tables; its source is printed when somebody reads the sheet."""

    symbol: str
    value: float
    unit: str
    source: str | Sourced
    name: str


@dataclass(slots=True)
class _Part:
    """Where another part of the work begins."""

    name: str


_Step = tuple[Formula[Any], tuple[Any, ...], float] | SheetLine | _Given | _Part


@dataclass(slots=True)
class Sheet:
    """The steps of one answer, in order. Made fresh for every answer; read through `lines`.

    `cite` prints where a row of the tables comes from under a rulebook.
    """

    rulebook: Rulebook = "uk"
    cite: Callable[[Sourced, Rulebook], str] = _bare
    _steps: list[_Step] = field(default_factory=list)

    @classmethod
    def of(cls, lines: list[SheetLine]) -> "Sheet":
        """A sheet that was written out before."""
        return cls(_steps=list(lines))

    def fresh(self) -> "Sheet":
        """An empty sheet of the same kind, for steps that may not be kept."""
        return Sheet(self.rulebook, self.cite)

    def work(self, step: Formula[P], *args: P.args, **kwargs: P.kwargs) -> float:
        """Work a formula on positional figures and keep the step. Returns the value."""
        value = step.work(*args, **kwargs)
        self._steps.append((step, args, value))
        return value

    def figure(self, symbol: str, row: Figure, name: str) -> float:
        """Keep a figure of the tables; `name` says what it is. Returns its value in SI."""
        return self.given(symbol, row.si, row.si_unit, row, name)

    def given(self, symbol: str, value: float, unit: str, source: str | Sourced, name: str) -> float:
        """Keep a figure that was told or read from the tables; `name` says what it is. Returns the value."""
        self._steps.append(_Given(symbol, value, unit, source, name))
        return value

    def least(self, symbol: str, of: Mapping[str, float], unit: str, source: str, name: str) -> float:
        """Keep which of some figures, by symbol, is the least. Returns it."""
        return self._picked("min", min(of.values()), symbol, of, unit, source, name)

    def most(self, symbol: str, of: Mapping[str, float], unit: str, source: str, name: str) -> float:
        """Keep which of some figures, by symbol, is the greatest. Returns it."""
        return self._picked("max", max(of.values()), symbol, of, unit, source, name)

    def _picked(
        self, how: str, value: float, symbol: str, of: Mapping[str, float], unit: str, source: str, name: str
    ) -> float:
        text, figures = ", ".join(of), ", ".join(map(_figure, of.values()))
        if len(of) > 1:
            text, figures = f"{how}({text})", f"{how}({figures})"
        self._steps.append(SheetLine(symbol, text, figures, value, unit, source, name))
        return value

    def check(
        self,
        name: str,
        asked: tuple[str, float],
        there: tuple[str, float],
        unit: str,
        source: str | Sourced,
    ) -> bool:
        """Keep a check with its verdict: what is asked against what is there, each by symbol and figure."""
        (over, a), (under, b) = asked, there
        holds, share = a <= b * (1 + 1e-9), a / b if b else 0.0
        said = source if isinstance(source, str) else self.cite(source, self.rulebook)
        text = f"{over} <= {under}"
        figures = f"{_figure(a)} <= {_figure(b)}" if holds else f"{_figure(a)} > {_figure(b)}"
        self._steps.append(SheetLine(text, text, figures, share, unit, said, name, holds))
        return holds

    def take(self, other: "Sheet") -> None:
        """Keep the steps of another sheet after these."""
        self._steps += other._steps

    def part(self, name: str) -> None:
        """Say that another part of the work begins."""
        self._steps.append(_Part(name))

    @property
    def lines(self) -> list[SheetLine]:
        """Every step as a line; one that comes again word for word is printed once."""
        found: dict[tuple[str, str, str, float], SheetLine] = {}
        part, worked = "", set[tuple[Any, ...]]()
        for step in self._steps:
            if isinstance(step, tuple):
                if step in worked:  # nearly half of the steps are worked twice
                    continue
                worked.add(step)
                line = step[0].line(step[1], step[2], self.rulebook)
            elif isinstance(step, _Given):
                name = (step.symbol, step.value)
                if name in worked:
                    continue
                worked.add(name)
                where = step.source
                source = where if isinstance(where, str) else self.cite(where, self.rulebook)
                line = SheetLine(step.symbol, "given", "", step.value, step.unit, source, step.name)
            elif isinstance(step, _Part):
                part = step.name
                continue
            else:
                line = step
            line.part = line.part or part
            found.setdefault((line.symbol, line.formula, line.figures, line.value), line)
        return list(found.values())


class Scratch(Sheet):
    """A sheet that keeps nothing: for work whose steps nobody will read."""

    def fresh(self) -> "Sheet":
        return Scratch()

    def part(self, name: str) -> None:
        pass

    def work(self, step: Formula[P], *args: P.args, **kwargs: P.kwargs) -> float:
        return step.work(*args, **kwargs)

    def figure(self, symbol: str, row: Figure, name: str) -> float:
        return row.si

    def given(self, symbol: str, value: float, unit: str, source: str | Sourced, name: str) -> float:
        return value

    def least(self, symbol: str, of: Mapping[str, float], unit: str, source: str, name: str) -> float:
        return min(of.values())

    def most(self, symbol: str, of: Mapping[str, float], unit: str, source: str, name: str) -> float:
        return max(of.values())

    def check(
        self,
        name: str,
        asked: tuple[str, float],
        there: tuple[str, float],
        unit: str,
        source: str | Sourced,
    ) -> bool:
        return asked[1] <= there[1] * (1 + 1e-9)
