"""What both sections of a sketch share: their scale and their shades, and the street beside them."""

from dataclasses import dataclass

from markupsafe import Markup

from bot.office.svg import box
from knowledge.reading import Details
from knowledge.units import Metre, printed

WIDE = 1000.0  # of the whole drawing, in its own units
LONG = 520.0  # of the long section
LEFT, TOP = 46.0, 58.0
TALL = 300.0  # of the trench at most
INK, SOIL, STEEL, PALE = "#1c2528", "#e4ddcd", "#3b4a50", "#8b938f"


@dataclass(frozen=True)
class Scale:
    """From metres to the drawing: along, and down."""

    along: float
    down: float

    def x(self, metres: Metre) -> float:
        return LEFT + metres * self.along

    def y(self, metres: Metre) -> float:
        return TOP + metres * self.down


def pavement(details: Details, scale: Scale, x0: float, x1: float) -> list[Markup]:
    """The road or slab, between two places of the drawing."""
    if not details.pavement_m:
        return []
    return [box(x0, scale.y(0), x1 - x0, scale.y(details.pavement_m) - scale.y(0), fill=PALE)]


def measure(metres: Metre | None) -> str:
    """A length as it is told."""
    return "not told" if metres is None else f"{printed(metres)} m"
