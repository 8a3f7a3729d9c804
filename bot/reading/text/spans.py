"""What a message is made of: pieces in their places, and the figures among them."""

from dataclasses import dataclass
from typing import Literal

from bot.language.meanings import NONE, Meanings
from bot.language.said import Said
from knowledge.units import BAR_PER_MPA, BAR_PER_PSI, M_PER_FT, M_PER_INCH

SpanKind = Literal["length", "bare", "pressure", "other", "ordinal", "noise"]
METRES = {"m": 1.0, "mm": 0.001, "cm": 0.01, "ft": M_PER_FT, "inch": M_PER_INCH}
BARS = {"bar": 1.0, "psi": BAR_PER_PSI, "MPa": BAR_PER_MPA, "kPa": BAR_PER_MPA / 1000}


@dataclass(slots=True, eq=False)
class SaidFigure:
    """A number as said. `whole` without decimals; `doubt` where the number itself has two readings."""

    value: float
    unit: str | None = None
    kind: SpanKind = "bare"
    whole: bool = True
    spoken: bool = False
    doubt: bool = False
    at_least: bool = False  # "over 1.5 m": no less than this
    other: "SaidFigure | None" = None  # the other end of a range
    merged: bool = False  # the lesser end of a range, now part of the other
    falling: bool = False  # a range said of a bottom that falls
    grouped: bool = False  # written with a comma before three digits

    @property
    def metres(self) -> float:
        """The length in metres, by the unit written."""
        return self.value * METRES[self.unit or "m"]

    @property
    def bar(self) -> float:
        """The pressure in bar, by the unit written."""
        return self.value * BARS[self.unit or "bar"]


@dataclass(slots=True, eq=False)
class Span:
    """A word, mark, figure or trench reference of a message, in its place."""

    kind: Literal["word", "mark", "figure", "ref"]
    text: str
    raw: str
    glued: bool = False
    figure: SaidFigure | None = None
    tags: Meanings = NONE
    used: bool = False  # taken as a figure, label or word of something
    aside: bool = False  # a figure that measures nothing here: a count, a clock time, another trench's
    dug: bool = False  # a figure that says how deep it is dug
    inside: tuple[str, ...] = ()  # words that stand inside a phrase and are no part of it
    told: bool = False  # a fact was made of it
    says: tuple[Said, ...] = ()  # what it was told to mean
    clause: int = 0
    state: str = ""  # "", denied, planned, supposed or asked
