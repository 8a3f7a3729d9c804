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
    round_down,
    round_up,
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
def stage_load(p: KiloPascal, s: Metre, h_d: Metre) -> KiloNewton:
    """Greatest load of one strut at a stage of the dig."""
    return p * s * h_d


@formula(symbol="s_max", source="tributary area, turned round")
def spacing_for(R_l: KiloNewton, p: KiloPascal, h_l: Metre) -> Metre:
    """The spacing at which a strut that carries `h_l` of the face comes to `R_l`."""
    return R_l / (p * h_l)


@formula(symbol="s_b", source="tributary area, turned round: what the ground bears behind one rail")
def spacing_borne(R_b: KiloNewton, p: KiloPascal, h_a: Metre) -> Metre:
    """The spacing at which a rail that carries `h_a` of the face comes to what the ground bears behind it."""
    return R_b / (p * h_a)


@formula(symbol="σ_E", source="Euler")
def euler_stress(E_t: GigaPascal, I_t: Millimetre4, A_t: SquareMillimetre, L_mm: Millimetre) -> GigaPascal:
    """Stress at which a pinned column buckles."""
    return pi**2 * E_t * I_t / (A_t * L_mm**2)


@formula(symbol="η", source="Perry-Robertson: 0.003 L/k")
def imperfection(a_p: Ratio, L_mm: Millimetre, I_t: Millimetre4, A_t: SquareMillimetre) -> Ratio:
    """How far from straight the column is taken to be."""
    return a_p * L_mm / sqrt(I_t / A_t)


@formula(symbol="X", source="Perry-Robertson")
def perry_mean(σ_y: GigaPascal, η: Ratio, σ_E: GigaPascal) -> GigaPascal:
    """Half of yield stress and enlarged Euler stress."""
    return (σ_y + (1 + η) * σ_E) / 2


@formula(symbol="σ_c", source="Perry-Robertson")
def perry_stress(X: GigaPascal, σ_y: GigaPascal, σ_E: GigaPascal) -> GigaPascal:
    """Stress at which the bent column first yields."""
    return X - sqrt(X**2 - σ_y * σ_E)


@formula(symbol="N_bRd", source="Perry-Robertson over a factor of safety")
def column_capacity(σ_c: GigaPascal, A_t: SquareMillimetre, F_c: Ratio) -> KiloNewton:
    """What the tube carries as a column, before it buckles."""
    return σ_c * A_t / F_c


@formula(symbol="N_ram", source="pressure that the ram holds under load, by its bore")
def held_by_ram(p_rg: GigaPascal, A_p: SquareMillimetre) -> KiloNewton:
    """What the fluid holds before a valve lets go or the ram is past its rating."""
    return p_rg * A_p


@formula(symbol="R", source="the least of data sheet, column and ram")
def strut_capacity(N_kit: KiloNewton, N_bRd: KiloNewton, N_ram: KiloNewton) -> KiloNewton:
    """What the strut may carry."""
    return min(N_kit, N_bRd, N_ram)


@formula(symbol="N_m", source="rail as cantilevers either side of the strut, w l^2 / 2 with l half the rail")
def rail_in_bending(f_m: GigaPascal, W: CubicMillimetre, l_mm: Millimetre) -> KiloNewton:
    """Strut load at which the rail bends to its allowable stress, the load spread along it."""
    return 8 * f_m * W / l_mm


@formula(symbol="N_v", source="rail: half of the strut load to each side")
def rail_in_shear(f_v: GigaPascal, A_v: SquareMillimetre) -> KiloNewton:
    """Strut load at which the rail reaches its allowable shear."""
    return 2 * f_v * A_v


@formula(symbol="M", source="w l^2 / 2 with w = N / rail and l half the rail")
def rail_moment(N: KiloNewton, l_r: Metre) -> KiloNewtonMetre:
    """Greatest moment in the rail."""
    return N * l_r / 8


@formula(symbol="M_R", source="allowable stress by section modulus; 1 kN m = 1000 kN mm")
def rail_allowable(f_m: GigaPascal, W: CubicMillimetre) -> KiloNewtonMetre:
    """Moment that a rail may take."""
    return f_m * W / 1000


@formula(symbol="p_g", source="force by pressure on the full bore")
def gauge_stress(P: KiloNewton, A_p: SquareMillimetre) -> GigaPascal:
    """Fluid pressure that gives the force `P`."""
    return P / A_p


@formula(symbol="P_g", source="force by pressure on the full bore")
def gauge_force(p_g: GigaPascal, A_p: SquareMillimetre) -> KiloNewton:
    """Force of the ram at a fluid pressure."""
    return p_g * A_p


@formula(symbol="p_b", source="1 GPa = 10 000 bar")
def in_bar(p_g: GigaPascal) -> Bar:
    """A fluid pressure as the gauge shows it."""
    return 10_000 * p_g


@formula(symbol="p_g", source="1 GPa = 10 000 bar")
def in_gpa(p_b: Bar) -> GigaPascal:
    """A fluid pressure as a stress."""
    return p_b / 10_000


@formula(symbol="L_mm", source="1 m = 1000 mm")
def in_mm(L: Metre) -> Millimetre:
    """Length of the strut in millimetres."""
    return 1000 * L


@formula(symbol="p_n", source="common practice: room for what two good gauges differ by")
def lowest_high(p_high: Bar, e: Bar) -> Bar:
    """The most that the lower end of the band may come to."""
    return p_high - 2 * e


@formula(symbol="N_p", source="common practice: pumped to a share of the load")
def load_of_preload(P_g: KiloNewton, a_0: Ratio) -> KiloNewton:
    """Strut load of which the pump gives the share wanted."""
    return P_g / a_0


@formula(symbol="P_0", source="common practice: pumped to a share of the load")
def preload(a_0: Ratio, N: KiloNewton) -> KiloNewton:
    """Force that the pump gives at least."""
    return a_0 * N


@formula(symbol="h_a", source="as it may come to be set with a tape")
def set_out(h_x: Metre, t_z: Metre) -> Metre:
    """Height that a level carries, set as far out as it may be."""
    return h_x + t_z


@formula(symbol="s_w", source="given out in steps")
def on_step(s_g: Metre, s_0: Metre) -> Metre:
    """Spacing, down to a step of the tape."""
    return round_down(s_g, s_0)


@formula(symbol="p_high", source="down to what a gauge is read to")
def down_to_bar(p_top: Bar, g: Bar) -> Bar:
    """Upper end of the setting band."""
    return round_down(p_top, g)


@formula(symbol="p_low", source="up to what a gauge is read to")
def up_to_bar(p_bot: Bar, g: Bar) -> Bar:
    """Lower end of the setting band."""
    return round_up(p_bot, g)


@formula(symbol="p_bot", source="common practice, kit, and a share of the design load")
def least_on_gauge(p_min: Bar, p_kit: Bar, p_0: Bar) -> Bar:
    """The least that the strut is pumped to."""
    return max(p_min, p_kit, p_0)


@formula(
    symbol="p_D", source="common practice: a gauge may rise by twice its error or a tenth, and all still hold"
)
def room_for_gauge(p_k: Bar, e: Bar, a_d: Ratio) -> Bar:
    """The most that may be set where ground and strut carry `p_k`."""
    return min(p_k - 2 * e, p_k / (1 + a_d))


@formula(symbol="p_top", source="common practice, relief valve, wall, room to rise")
def most_on_gauge(p_u: Bar, p_rel: Bar, p_w: Bar, p_D: Bar) -> Bar:
    """The most that the strut is pumped to."""
    return min(p_u, p_rel, p_w, p_D)
