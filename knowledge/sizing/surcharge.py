"""Loads beside the trench as pressure on its face: elastic theory, doubled for a face that does not give.

A spoil heap or a machine is a `strip`, from its near to its far edge. Move it back (a larger `x_1`) and its
greatest pressure falls. Loads add up. All pressures in kPa, lengths in metres, `x` square to the face, `z`
below the surface, above 0.

Published for walls that do not move; for one that yields, three quarters may be used (UFC 3-220-20
section 4-4.2). That allowance is not taken here.
"""

from math import atan, cos, pi, sin

from knowledge.sheet import formula
from knowledge.units import KiloPascal, Metre, Ratio


@formula(
    symbol="p_q",
    source="Rankine: K q",
    us="Caltrans Trenching and Shoring Manual ch. 5, eq. 5-1-1",
)
def uniform(K: Ratio, q: KiloPascal) -> KiloPascal:
    """Pressure on the face from a load that covers all the ground beside it."""
    return K * q


@formula(
    symbol="p_q",
    source="Boussinesq, strip load; doubled after Teng",
    us="Caltrans Trenching and Shoring Manual ch. 5, eq. 5-1-2 (Teng, doubled)",
)
def strip(q: KiloPascal, x_1: Metre, x_2: Metre, z: Metre) -> KiloPascal:
    """Pressure at depth `z` from a strip load beside the trench, from `x_1` to `x_2` off the face.

    With beta the angle under which the strip is seen and alpha that of its middle, off the vertical, this
    is 2q/pi (beta - sin beta cos 2 alpha).
    """
    return (
        2
        * q
        / pi
        * (
            atan(x_2 / z)
            - atan(x_1 / z)
            - sin(atan(x_2 / z) - atan(x_1 / z)) * cos(atan(x_2 / z) + atan(x_1 / z))
        )
    )
