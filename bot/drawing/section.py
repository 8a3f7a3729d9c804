"""What both sections of a sketch share: paper, scale, shades, and the street beside them."""

from dataclasses import dataclass

from markupsafe import Markup

from bot.drawing.svg import box
from bot.language.sender_units import SenderUnits
from knowledge.reading import Details
from knowledge.units import Metre

INK, SOIL, STEEL, PALE = "#1c2528", "#e4ddcd", "#3b4a50", "#8b938f"
UNDUG = "#f3efe5"  # what is planned to be dug, and is not reported dug
TOP = 58.0  # of the ground, below the top of a section
BELOW = 74.0  # room under the formation: the ruler, and words


@dataclass(frozen=True)
class Paper:
    """Where things stand on a drawing, in its own units: `long` is the long section, `tall` a trench at most,
    `low` at least: one that would be lower is drawn taller than it is long, and says so.

    The cross-section has the room from `across` on, `breadth` wide. `stacked` puts it under the long section
    and not beside it.
    """

    wide: float
    left: float
    long: float
    tall: float
    low: float
    across: float
    breadth: float
    stacked: bool
    font: float


OFFICE = Paper(
    wide=1000, left=46, long=520, tall=300, low=125, across=700, breadth=296, stacked=False, font=12
)
PHONE = Paper(wide=400, left=54, long=226, tall=200, low=130, across=6, breadth=388, stacked=True, font=13)


@dataclass(frozen=True)
class Scale:
    """From metres to the drawing, and how lengths and pressures are written on it."""

    paper: Paper
    along: float
    down: float
    say: SenderUnits

    def x(self, metres: Metre) -> float:
        return self.paper.left + metres * self.along

    def y(self, metres: Metre) -> float:
        return TOP + metres * self.down


def scale_of(paper: Paper, length: Metre, deep: Metre, say: SenderUnits) -> Scale:
    """The scale of a long section: the same both ways where the trench is then tall enough to be read."""
    along, most = paper.long / length, paper.tall / deep
    one = min(along, most)
    if one * deep >= paper.low:
        return Scale(paper, one, one, say)
    return Scale(paper, along, min(most, paper.low / deep), say)


def dug_out(scale: Scale, x0: float, x1: float, deep: Metre, dug: Metre | None) -> list[Markup]:
    """The trench as dug, and under it what is planned and not reported dug."""
    full, done = scale.y(deep), scale.y(min(dug or 0.0, deep))
    top = scale.y(0)
    return [
        box(x0, top, x1 - x0, full - top, fill=UNDUG, stroke=INK, stroke_dasharray="5 4"),
        *([box(x0, top, x1 - x0, done - top, fill="#fff", stroke=INK, stroke_width=1.5)] if dug else []),
    ]


def pavement(details: Details, scale: Scale, x0: float, x1: float) -> list[Markup]:
    """The road or slab, between two places of the drawing."""
    if not details.pavement_m:
        return []
    return [box(x0, scale.y(0), x1 - x0, scale.y(details.pavement_m) - scale.y(0), fill=PALE)]


def measure(metres: Metre | None, say: SenderUnits) -> str:
    """A length as it is told."""
    return "not told" if metres is None else say.told(metres)
