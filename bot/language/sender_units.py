"""Lengths and pressures as one sender reads them: in the units that they wrote in, now or last, else in those
of the place."""

from bot.message import LengthUnit, Manner, PressureUnit, Thread
from knowledge.sourced import Rulebook
from knowledge.units import (
    BAR_PER_PSI,
    Amount,
    Bar,
    Lengths,
    LimitSide,
    Metre,
    as_told,
    printed,
    round_down,
    round_up,
    show,
)

# What is said to who has not used a unit yet.
OF_THE_PLACE: dict[Rulebook, tuple[LengthUnit, PressureUnit]] = {"uk": ("m", "bar"), "us": ("ft", "psi")}


def in_their_units(manner: Manner, before: Thread | None, rulebook: Rulebook) -> Manner:
    """The manner with the units in which its sender is answered."""
    lengths, pressure = OF_THE_PLACE[rulebook]
    return manner.model_copy(
        update={
            "lengths": manner.lengths or (before and before.lengths) or lengths,
            "pressure": manner.pressure or (before and before.pressure) or pressure,
        }
    )


class SenderUnits:
    """Writes in one sender's units: where they are not known metres, and bar with psi."""

    def __init__(self, manner: Manner) -> None:
        self.lengths: Lengths = manner.lengths or "m"
        self.pressure = manner.pressure

    def length(self, metres: Metre, limit: LimitSide | None = None) -> str:
        """A length that was worked; a limit is rounded to its safe side."""
        return show(Amount(metres, "m", limit), self.lengths)

    def told(self, metres: Metre) -> str:
        """A length said back as it was told."""
        return as_told(metres, self.lengths)

    def band(self, low: Bar, high: Bar) -> str:
        """A pressure band in the sender's unit, in both where it is not known.

        Each end is rounded to the safe side: 51.71 bar is never shown as 52 (754 psi).
        """
        bar = f"{round_up(low, 1):.0f}-{round_down(high, 1):.0f} bar"
        psi = f"{round_up(low / BAR_PER_PSI, 10):.0f}-{round_down(high / BAR_PER_PSI, 10):.0f} psi"
        mpa = f"{round_up(low / 10, 0.1):.1f}-{round_down(high / 10, 0.1):.1f} MPa"
        return {"bar": bar, "psi": psi, "MPa": mpa}.get(self.pressure or "", f"{bar} ({psi})")

    def read(self, bar: Bar) -> str:
        """A gauge reading as a bare figure, in the sender's unit."""
        figure = {"psi": bar / BAR_PER_PSI, "MPa": bar / 10}.get(self.pressure or "", bar)
        return printed(round(figure, 1 if self.pressure != "psi" else 0))
