"""Formulas of a strut, the rails at its ends and the gauge of its pump."""

from math import pi, sqrt

from knowledge.sheet import formula
from knowledge.units import (
    Bar,
    CubicMillimetre,
    GigaPascal,
    KiloNewton,
    KiloNewtonMetre,
    KiloPascal,
    Metre,
    Millimetre,
    Millimetre4,
    Ratio,
    SquareMillimetre,
)


@formula(symbol="L", source="strut between the rails of both faces")
def face_to_face(B: Metre, t_r: Metre, t_b: Metre) -> Metre:
    """What the strut must span in a trench `B` wide, with rail and board on each face."""
    return B - 2 * (t_r + t_b)


@formula(symbol="N", source="tributary area (not the hinge method): pressure by spacing by height")
def strut_load(p: KiloPascal, s: Metre, h: Metre) -> KiloNewton:
    """Load of one strut."""
    return p * s * h


@formula(symbol="N_t", source="tributary area, while the dig stops for the next level")
def stage_load(p: KiloPascal, s: Metre, h_t: Metre) -> KiloNewton:
    """Greatest load of one strut at a stage of the dig."""
    return p * s * h_t


@formula(symbol="s_max", source="tributary area, turned round")
def spacing_for(R: KiloNewton, p: KiloPascal, h_t: Metre) -> Metre:
    """The spacing at which a strut that carries `h_t` of the face comes to `R`."""
    return R / (p * h_t)


@formula(symbol="s_b", source="tributary area, turned round: what the ground bears behind one rail")
def spacing_borne(R_b: KiloNewton, p: KiloPascal, h: Metre) -> Metre:
    """The spacing at which a rail that carries `h` of the face comes to what the ground bears behind it."""
    return R_b / (p * h)


@formula(symbol="σ_E", source="Euler")
def euler_stress(E: GigaPascal, I: Millimetre4, A: SquareMillimetre, L: Millimetre) -> GigaPascal:  # noqa: E741
    """Stress at which a pinned column buckles."""
    return pi**2 * E * I / (A * L**2)


@formula(symbol="η", source="Perry-Robertson: 0.003 L/k")
def imperfection(a: Ratio, L: Millimetre, I: Millimetre4, A: SquareMillimetre) -> Ratio:  # noqa: E741
    """How far from straight the column is taken to be."""
    return a * L / sqrt(I / A)


@formula(symbol="X", source="Perry-Robertson")
def perry_mean(σ_y: GigaPascal, η: Ratio, σ_E: GigaPascal) -> GigaPascal:
    """Half of yield stress and enlarged Euler stress."""
    return (σ_y + (1 + η) * σ_E) / 2


@formula(symbol="σ_c", source="Perry-Robertson")
def perry_stress(X: GigaPascal, σ_y: GigaPascal, σ_E: GigaPascal) -> GigaPascal:
    """Stress at which the bent column first yields."""
    return X - sqrt(X**2 - σ_y * σ_E)


@formula(symbol="N_bRd", source="Perry-Robertson over a factor of safety")
def column_capacity(σ_c: GigaPascal, A: SquareMillimetre, F_c: Ratio) -> KiloNewton:
    """What the tube carries as a column, before it buckles."""
    return σ_c * A / F_c


@formula(symbol="N_ram", source="pressure that the ram holds under load, by its bore")
def held_by_ram(p_g: GigaPascal, A: SquareMillimetre) -> KiloNewton:
    """What the fluid holds before a valve lets go or the ram is past its rating."""
    return p_g * A


@formula(symbol="R", source="the least of data sheet, column and ram")
def strut_capacity(N_kit: KiloNewton, N_bRd: KiloNewton, N_ram: KiloNewton) -> KiloNewton:
    """What the strut may carry."""
    return min(N_kit, N_bRd, N_ram)


@formula(symbol="N_m", source="rail as cantilevers either side of the strut, w l^2 / 2 with l half the rail")
def rail_in_bending(f: GigaPascal, W: CubicMillimetre, l_r: Millimetre) -> KiloNewton:
    """Strut load at which the rail bends to its allowable stress, the load spread along it."""
    return 8 * f * W / l_r


@formula(symbol="N_v", source="rail: half of the strut load to each side")
def rail_in_shear(f_v: GigaPascal, A_v: SquareMillimetre) -> KiloNewton:
    """Strut load at which the rail reaches its allowable shear."""
    return 2 * f_v * A_v


@formula(symbol="M", source="w l^2 / 2 with w = N / rail and l half the rail")
def rail_moment(N: KiloNewton, l_r: Metre) -> KiloNewtonMetre:
    """Greatest moment in the rail."""
    return N * l_r / 8


@formula(symbol="p_g", source="force by pressure on the full bore")
def gauge_stress(P: KiloNewton, A: SquareMillimetre) -> GigaPascal:
    """Fluid pressure that gives the force `P`."""
    return P / A


@formula(symbol="P_g", source="force by pressure on the full bore")
def gauge_force(p_g: GigaPascal, A: SquareMillimetre) -> KiloNewton:
    """Force of the ram at a fluid pressure."""
    return p_g * A


@formula(symbol="p_b", source="1 GPa = 10 000 bar")
def in_bar(p_g: GigaPascal) -> Bar:
    """A fluid pressure as the gauge shows it."""
    return 10_000 * p_g


@formula(
    symbol="p_low", source="common practice, kit, and a share of the design load; rounded up on the gauge"
)
def least_on_gauge(p_practice: Bar, p_kit: Bar, p_share: Bar) -> Bar:
    """The least that the strut is pumped to."""
    return max(p_practice, p_kit, p_share)


@formula(
    symbol="p_D", source="common practice: a gauge may rise by twice its error or a tenth, and all still hold"
)
def room_for_gauge(p_c: Bar, e: Bar, a: Ratio) -> Bar:
    """The most that may be set where ground and strut carry `p_c`."""
    return min(p_c - 2 * e, p_c / (1 + a))


@formula(
    symbol="p_high", source="common practice, relief valve, wall, room to rise; rounded down on the gauge"
)
def most_on_gauge(p_practice: Bar, p_relief: Bar, p_wall: Bar, p_D: Bar) -> Bar:
    """The most that the strut is pumped to."""
    return min(p_practice, p_relief, p_wall, p_D)
