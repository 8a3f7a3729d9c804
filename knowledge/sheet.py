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
_SIGNS = {ast.Mult: "×", ast.Div: "/", ast.Add: "+", ast.Sub: "-"}
_COMPARE = {ast.LtE: "<=", ast.Lt: "<", ast.GtE: ">=", ast.Gt: ">", ast.Eq: "=="}


@dataclass(frozen=True, slots=True)
class Line:
    """One step: `symbol = formula = figures = value unit`, and where the formula comes from.

    A line that was given (a fact told, a figure from the tables) has the formula "given" and no figures.
    """

    symbol: str
    formula: str
    figures: str
    value: float
    unit: str
    source: str

    def __str__(self) -> str:
        middle = f" = {self.figures}" if self.figures else ""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.symbol} = {self.formula}{middle} = {printed(self.value)}{unit}   [{self.source}]"


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
    def _expression(self) -> ast.expr:
        tree = ast.parse(textwrap.dedent(inspect.getsource(self.work)))
        body = [s for s in tree.body[0].body if isinstance(s, ast.Return)]  # type: ignore[attr-defined]
        if len(body) != 1 or body[0].value is None:
            raise TypeError(f"formula {self.__name__} must be one return expression")
        return body[0].value

    def line(self, args: tuple[Any, ...], value: float) -> Line:
        given = dict(zip(self.names, args, strict=True))
        return Line(
            symbol=self.symbol,
            formula=_text(self._expression, {}),
            figures=_text(self._expression, given),
            value=value,
            unit=self.units["return"],
            source=self.source,
        )


def formula(symbol: str, source: str) -> Callable[[Callable[P, float]], Formula[P]]:
    """Declare a formula: its symbol, and the source it is published in."""

    def declare(work: Callable[P, float]) -> Formula[P]:
        return Formula(work, symbol, source)

    return declare


def _text(node: ast.expr, given: dict[str, Any], outer: int = 0) -> str:
    """The expression with names as they stand, or with the figures put in for them.

    `outer` is the binding strength around the node, so that only needed brackets are printed.
    """
    if isinstance(node, ast.BinOp):
        if isinstance(node.op, ast.Pow):
            return f"{_text(node.left, given, 3)} ^ {_text(node.right, given, 3)}"
        own = 2 if isinstance(node.op, ast.Mult | ast.Div) else 1
        sign = _SIGNS[type(node.op)]
        left, right = _text(node.left, given, own), _text(node.right, given, own + 1)
        body = f"{left} {sign} {right}"
        return f"({body})" if own < outer else body
    if isinstance(node, ast.Name):
        if node.id not in given:
            return "π" if node.id == "pi" and not given else "3.14159" if node.id == "pi" else node.id
        figure = printed(float(given[node.id]))
        return f"({figure})" if figure.startswith("-") else figure
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        return printed(float(node.value))
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return f"(-{_text(node.operand, given, 3)})"
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return f"{node.func.id}({', '.join(_text(a, given) for a in node.args)})"
    if isinstance(node, ast.IfExp):
        body = (
            f"{_text(node.body, given, 1)} if {_text(node.test, given)} else {_text(node.orelse, given, 1)}"
        )
        return f"({body})" if outer else body
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        sign = _COMPARE[type(node.ops[0])]
        return f"{_text(node.left, given)} {sign} {_text(node.comparators[0], given)}"
    raise TypeError(f"a formula cannot hold {ast.dump(node)}")


@dataclass(slots=True)
class Sheet:
    """The steps of one answer, in order. Made fresh for every answer; read through `lines`."""

    _steps: list[tuple[Formula[Any], tuple[Any, ...], float] | Line] = field(default_factory=list)

    def work(self, step: Formula[P], *args: P.args, **kwargs: P.kwargs) -> float:
        """Work a formula on positional figures and keep the step. Returns the value."""
        value = step.work(*args, **kwargs)
        self._steps.append((step, args, value))
        return value

    def given(self, symbol: str, value: float, unit: str, source: str) -> float:
        """Keep a figure that was told or read from the tables. Returns the value."""
        self._steps.append(Line(symbol, "given", "", value, unit, source))
        return value

    def take(self, other: "Sheet") -> None:
        """Keep the steps of another sheet after these."""
        self._steps += other._steps

    @property
    def lines(self) -> list[Line]:
        return [s if isinstance(s, Line) else s[0].line(s[1], s[2]) for s in self._steps]


class Scratch(Sheet):
    """A sheet that keeps nothing: for work whose steps nobody will read."""

    def work(self, step: Formula[P], *args: P.args, **kwargs: P.kwargs) -> float:
        return step.work(*args, **kwargs)

    def given(self, symbol: str, value: float, unit: str, source: str) -> float:
        return value
