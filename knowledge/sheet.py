"""The calculation sheet: every step as a line that anyone can work again.

A formula is written once, as a Python function with a single `return`. The printed formula and the
printed figures come from that very expression, so the sheet cannot drift from what was computed.
Lines are only rendered when somebody reads the sheet.
"""

import ast
import inspect
import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Generic, ParamSpec, get_type_hints

from knowledge.units import printed

P = ParamSpec("P")
_CUT = "\0"
_SIGNS = {ast.Mult: "×", ast.Div: "/", ast.Add: "+", ast.Sub: "-"}
_COMPARE = {ast.LtE: "<=", ast.Lt: "<", ast.GtE: ">=", ast.Gt: ">", ast.Eq: "=="}


@dataclass(slots=True)
class SheetLine:
    """One step: `symbol = formula = figures = value unit`, and where the formula comes from.

    `name` says in words what the symbol is. A line that was given (a fact told, a figure from the tables) has
    the formula "given" and no figures. A check is what is asked over what is there; `holds` is its verdict.
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

    def __str__(self) -> str:
        middle = f" = {self.figures}" if self.figures else ""
        unit = f" {self.unit}" if self.unit else ""
        verdict = "" if self.holds is None else ": holds" if self.holds else ": DOES NOT HOLD"
        said = f"{self.name}: " if self.name else ""
        worked = f"{self.symbol} = {self.formula}{middle} = {printed(self.value)}{unit}{verdict}"
        return f"{said}{worked}   [{self.source}]"


class Formula(Generic[P]):
    """A formula of the field: callable as plain Python, printable as a line of the sheet."""

    def __init__(self, work: Callable[P, float], symbol: str, source: str) -> None:
        self.work = work
        self.symbol = symbol
        self.source = source
        self.__doc__ = work.__doc__
        self.__name__ = work.__name__

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
        return "".join("π" if piece == "pi" else piece for piece in self._pieces)

    @cached_property
    def _blank(self) -> str:
        """The printed formula with a numbered blank for each symbol: "{0} × {1}"."""
        blanks = {name: f"{{{at}}}" for at, name in enumerate(self.names)} | {"pi": "3.14159"}
        return "".join(blanks[piece] if at % 2 else piece for at, piece in enumerate(self._pieces))

    def line(self, args: tuple[Any, ...], value: float) -> SheetLine:
        figures = self._blank.format(*map(_figure, args))
        return SheetLine(
            self.symbol, self._text, figures, value, self.units["return"], self.source, self.said
        )

    @cached_property
    def said(self) -> str:
        """What the result is, in words: the first paragraph of its docstring."""
        first = inspect.getdoc(self.work) or ""
        return " ".join(first.replace("`", "").split("\n\n")[0].split()).rstrip(".")


def _figure(value: float) -> str:
    text = printed(value)
    return f"({text})" if value < 0 else text


def formula(symbol: str, source: str) -> Callable[[Callable[P, float]], Formula[P]]:
    """Declare a formula: its symbol, and the source it is published in."""

    def declare(work: Callable[P, float]) -> Formula[P]:
        return Formula(work, symbol, source)

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


@dataclass(slots=True)
class Sheet:
    """The steps of one answer, in order. Made fresh for every answer; read through `lines`."""

    _steps: list[tuple[Formula[Any], tuple[Any, ...], float] | SheetLine] = field(default_factory=list)

    def work(self, step: Formula[P], *args: P.args, **kwargs: P.kwargs) -> float:
        """Work a formula on positional figures and keep the step. Returns the value."""
        value = step.work(*args, **kwargs)
        self._steps.append((step, args, value))
        return value

    def given(self, symbol: str, value: float, unit: str, source: str, name: str) -> float:
        """Keep a figure that was told or read from the tables; `name` says what it is. Returns the value."""
        self._steps.append(SheetLine(symbol, "given", "", value, unit, source, name))
        return value

    def check(self, name: str, asked: tuple[str, float], there: tuple[str, float], source: str) -> bool:
        """Keep a check with its verdict: what is asked over what is there, each a symbol and its figure."""
        (over, a), (under, b) = asked, there
        holds, share = a <= b * (1 + 1e-9), a / b
        figures = f"{_figure(a)} / {_figure(b)}"
        symbol = f"{over} / {under}"
        self._steps.append(SheetLine(symbol, symbol, figures, share, "", source, name, holds))
        return holds

    def take(self, other: "Sheet") -> None:
        """Keep the steps of another sheet after these."""
        self._steps += other._steps

    @property
    def lines(self) -> list[SheetLine]:
        return [s if isinstance(s, SheetLine) else s[0].line(s[1], s[2]) for s in self._steps]


class Scratch(Sheet):
    """A sheet that keeps nothing: for work whose steps nobody will read."""

    def work(self, step: Formula[P], *args: P.args, **kwargs: P.kwargs) -> float:
        return step.work(*args, **kwargs)

    def given(self, symbol: str, value: float, unit: str, source: str, name: str) -> float:
        return value

    def check(self, name: str, asked: tuple[str, float], there: tuple[str, float], source: str) -> bool:
        return asked[1] <= there[1] * (1 + 1e-9)
