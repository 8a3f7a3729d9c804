"""What both sections of a sketch share: paper, scale, shades, and the street beside them."""

from dataclasses import dataclass

from markupsafe import Markup

from bot.drawing.svg import box
from bot.language.sender_units import SenderUnits
from knowledge.reading import Details
from knowledge.units import Metre

INK, SOIL, STEEL, PALE = "#1c2528", "#e4ddcd", "#3b4a50", "#8b938f"
TOP = 58.0  # of the ground, below the top of a section
BELOW = 74.0  # room under the formation: the ruler, and words


@dataclass(frozen=True)
class Paper:
    """Where things stand on a drawing, in its own units: `long` is the long section, `tall` a trench at most.

    `across` is the middle of the cross-section. `stacked` puts it under the long section and not beside it.
    """

    wide: float
    left: float
    long: float
    tall: float
    across: float
    stacked: bool
    font: float


OFFICE = Paper(wide=1000, left=46, long=520, tall=300, across=835, stacked=False, font=12)
PHONE = Paper(wide=400, left=54, long=226, tall=200, across=200, stacked=True, font=13)


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


def pavement(details: Details, scale: Scale, x0: float, x1: float) -> list[Markup]:
    """The road or slab, between two places of the drawing."""
    if not details.pavement_m:
        return []
    return [box(x0, scale.y(0), x1 - x0, scale.y(details.pavement_m) - scale.y(0), fill=PALE)]


def measure(metres: Metre | None, say: SenderUnits) -> str:
    """A length as it is told."""
    return "not told" if metres is None else say.told(metres)
