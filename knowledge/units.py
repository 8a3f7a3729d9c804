"""Quantities of the field as tagged floats, and their exact conversions.

A tag names the unit that a float is in; the calculation sheet prints it and a test checks, with
pint, that each formula's result really comes out in the unit it declares. Nothing here parses text.

Conversions are exact by definition: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, g_n = 9.80665 m/s2
(ISO 80000; NIST SP 811 App. B).
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Literal

Ratio = Annotated[float, ""]
Metre = Annotated[float, "m"]
SquareMetre = Annotated[float, "m2"]
Millimetre = Annotated[float, "mm"]
SquareMillimetre = Annotated[float, "mm2"]
CubicMillimetre = Annotated[float, "mm3"]
Millimetre4 = Annotated[float, "mm4"]
KiloPascal = Annotated[float, "kPa"]
GigaPascal = Annotated[float, "GPa"]
Bar = Annotated[float, "bar"]
KiloNewton = Annotated[float, "kN"]
KiloNewtonMetre = Annotated[float, "kN m"]
KnPerM3 = Annotated[float, "kN/m3"]
Degree = Annotated[float, "deg"]
Kilogram = Annotated[float, "kg"]
Litre = Annotated[float, "L"]

M_PER_FT = 0.3048
M_PER_INCH = 0.0254
N_PER_LBF = 0.45359237 * 9.80665
KPA_PER_PSI = N_PER_LBF / (M_PER_INCH * M_PER_INCH) / 1000
BAR_PER_PSI = KPA_PER_PSI / 100
BAR_PER_MPA = 10.0
KPA_PER_PSF = N_PER_LBF / (M_PER_FT * M_PER_FT) / 1000
KNM3_PER_PCF = N_PER_LBF / M_PER_FT**3 / 1000
KPA_PER_TSF = 2000 * KPA_PER_PSF

# A limit printed in fewer digits must stay on the safe side of itself, but binary noise
# (0.1 + 0.2) must not push 51.0 down to 50.
_NOISE = 1e-9


def round_down(value: float, step: float) -> float:
    """`value` on the grid of `step`, never above it: for upper limits."""
    return math.floor(value / step + _NOISE) * step


def round_up(value: float, step: float) -> float:
    """`value` on the grid of `step`, never below it: for lower limits."""
    return math.ceil(value / step - _NOISE) * step


def printed(value: float) -> str:
    """A figure in plain decimals with five significant digits and no trailing zeros."""
    text = f"{value:.5g}"
    if "e" not in text or not math.isfinite(value):
        return text
    decimals = max(0, 4 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@lru_cache(maxsize=4096)  # a sheet prints most of its figures several times
def on_sheet(value: float) -> str:
    """A figure of the calculation sheet: four significant digits, as an engineer would write it by hand."""
    text = f"{value + 0.0:.4g}"  # no "-0"
    return printed(float(text)) if "e" in text else text


LimitSide = Literal["upper", "lower"]
Lengths = Literal["m", "mm", "cm", "ft", "in"]


@dataclass(frozen=True, slots=True)
class Amount:
    """A figure for a sentence: SI value, its unit, and which way it may safely be rounded.

    `limit` "upper" is only ever rounded down, "lower" only up, None to the nearest.
    """

    value: float
    unit: str = ""
    limit: LimitSide | None = None


# From here on a length told in cm or mm is said in metres: nobody says 800 cm.
_LONG = 3.0


def said_in(value: Metre, lengths: Lengths) -> Lengths:
    """The unit in which a length is said to somebody who writes in `lengths`."""
    return "m" if lengths in ("cm", "mm") and value >= _LONG - _NOISE else lengths


def show(amount: Amount, lengths: Lengths = "m") -> str:
    """The figure as a crew reads it, lengths in their unit: "1.6 m", "900 mm", "5 ft 3 in", "28 bar"."""
    if amount.unit != "m":
        figure = printed(_rounded(amount.value, 0.1 if abs(amount.value) < 10 else 1.0, amount.limit))
        return f"{figure} {amount.unit}".rstrip()
    if lengths in ("ft", "in"):
        inches = round(_rounded(amount.value / M_PER_INCH, 1.0, amount.limit))
        feet, rest = divmod(inches, 12)
        if feet == 0:
            return f"{rest} in"
        return f"{feet} ft {rest} in" if rest else f"{feet} ft"
    lengths = said_in(amount.value, lengths)
    step, factor, decimals = {"m": (0.01, 1.0, 2), "cm": (1.0, 100.0, 0), "mm": (10.0, 1000.0, 0)}[lengths]
    figure = f"{_rounded(amount.value * factor, step, amount.limit):.{decimals}f}"
    return f"{figure.rstrip('0').rstrip('.') if decimals else figure} {lengths}"


def as_told(value: Metre, lengths: Lengths = "m") -> str:
    """A length said back as told, to the millimetre or the eighth of an inch: a misreading must show."""
    if lengths in ("ft", "in"):
        eighths = round(value / M_PER_INCH * 8)
        feet, rest = divmod(eighths, 96)
        inches = f"{printed(rest / 8)} in" if rest or not feet else ""
        return " ".join(part for part in (f"{feet} ft" if feet else "", inches) if part)
    lengths = said_in(value, lengths)
    factor = {"m": 1.0, "cm": 100.0, "mm": 1000.0}[lengths]
    return f"{printed(round(round(value, 3) * factor, 3))} {lengths}"


def _rounded(value: float, step: float, limit: LimitSide | None) -> float:
    if limit == "upper":
        return round_down(value, step)
    if limit == "lower":
        return round_up(value, step)
    return round(value / step) * step
