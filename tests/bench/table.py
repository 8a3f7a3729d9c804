"""One measured line, and a table of them as Markdown."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """What was measured, our figure and the other side's, and their ratio with its spread over the rounds."""

    what: str
    ours: str
    theirs: str = ""
    ratio: float | None = None
    spread: tuple[float, float] | None = None
    aim: str = ""

    def cells(self) -> tuple[str, ...]:
        """The row as it is printed."""
        ratio = "" if self.ratio is None else f"{self.ratio:.3g}"
        if self.spread:
            ratio += f" ({self.spread[0]:.3g} to {self.spread[1]:.3g})"
        return self.what, self.ours, self.theirs, ratio, self.aim


def markdown(title: str, rows: Iterable[Row]) -> str:
    """A table with its heading."""
    head = ("measured", "ours", "beside it", "ratio (spread)", "aim")
    lines = [head, ("---",) * len(head), *(row.cells() for row in rows)]
    return f"### {title}\n\n" + "".join(f"| {' | '.join(cells)} |\n" for cells in lines)
