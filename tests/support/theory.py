"""Formulas of the field that the sizing does not use. Published examples hold them; they hold the sizing's.

All pressures in kPa, lengths in metres, `x` square to the face, `z` below the surface.
"""

from collections.abc import Callable
from math import atan, cos, pi, radians, sqrt, tan
from typing import Annotated

from knowledge.sheet import formula
from knowledge.units import Degree, KiloNewton, KiloPascal, Metre, Ratio

KnPerM = Annotated[float, "kN/m"]

_SLICES = 60  # depths looked at for the peak


@formula(symbol="K_p", source="Rankine; UFC 3-220-20 eq. 4-4")
def rankine_passive(φ: Degree) -> Ratio:
    """Passive earth pressure coefficient."""
    return tan(radians(45 + φ / 2)) ** 2


@formula(symbol="p_q", source="Caltrans Trenching and Shoring Manual ch. 5, eq. 5-1-3 and 5-1-4")
def line(Q_l: KnPerM, H: Metre, m: Ratio, n: Ratio) -> KiloPascal:
    """Pressure from a line load along the trench, `m` = x/H off the face, at `n` = z/H down."""
    return (
        0.2 * Q_l / H * n / (0.16 + n**2) ** 2 if m <= 0.4 else 1.28 * Q_l / H * m**2 * n / (m**2 + n**2) ** 2
    )


@formula(symbol="p_q", source="Caltrans Trenching and Shoring Manual ch. 5, eq. 5-1-5 and 5-1-6")
def point(Q_p: KiloNewton, H: Metre, m: Ratio, n: Ratio) -> KiloPascal:
    """Pressure straight across from a point load, `m` = x/H off the face, at `n` = z/H down."""
    return (
        0.28 * Q_p / H**2 * n**2 / (0.16 + n**2) ** 3
        if m <= 0.4
        else 1.77 * Q_p / H**2 * m**2 * n**2 / (m**2 + n**2) ** 3
    )


@formula(symbol="p_q", source="Caltrans Trenching and Shoring Manual ch. 5, eq. 5-1-7")
def point_aside(p_q: KiloPascal, theta: Ratio) -> KiloPascal:
    """Pressure of a point load where the face is `theta` (radians) off the straight line across."""
    return p_q * cos(1.1 * theta) ** 2


@formula(symbol="p_c", source="Holl (1940), in Poulos and Davis, Elastic Solutions (from memory), doubled")
def corner(q: KiloPascal, m: Ratio, n: Ratio) -> KiloPascal:
    """Pressure across from one corner of a loaded rectangle: `m` = x/z off the face, `n` = y/z along it."""
    return q / pi * (atan(m * n / sqrt(m**2 + n**2 + 1)) - m * n / (m**2 + 1) / sqrt(m**2 + n**2 + 1))


@formula(symbol="p_q", source="Holl (1940): rectangles add up")
def two_sides(p_2: KiloPascal, p_1: KiloPascal) -> KiloPascal:
    """Pressure across from the middle of a patch: both halves of the far rectangle less the near one."""
    return 2 * (p_2 - p_1)


def patch(q: KiloPascal, x_1: Metre, x_2: Metre, b: Metre, z: Metre) -> KiloPascal:
    """Pressure at depth `z` across from the middle of a patch load (where it is greatest).

    The patch lies from `x_1` to `x_2` off the face and is `b` long, along the trench. A very long patch
    is a strip.
    """
    return two_sides(corner(q, x_2 / z, b / 2 / z), corner(q, x_1 / z, b / 2 / z))


def peak(H: Metre, at: Callable[[Metre], KiloPascal]) -> tuple[KiloPascal, Metre]:
    """The greatest pressure over a trench `H` deep, and its depth.

    A heap of 10 kPa from 0.6 to 2.6 m beside 2 m of trench: `peak(2, lambda z: strip(10, 0.6, 2.6, z))` is
    5.37 kPa at 0.67 m down; moved back to 1 m, 4.23 kPa at 0.97 m.
    """
    depths = (H * (i / _SLICES) for i in range(1, _SLICES + 1))
    return max((at(z), z) for z in depths)
