"""Loads beside the trench, against printed examples, and against the point solution integrated by SciPy."""

from collections.abc import Callable
from math import pi
from typing import Any

import pint
import pytest
import theory
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from knowledge.sheet import Formula, Sheet
from knowledge.sizing import surcharge as s
from knowledge.units import KPA_PER_PSF, M_PER_FT, on_sheet

# Caltrans Trenching and Shoring Manual (June 2011, rev. 2 July 2025), mark R1; rows marked C are worked from
# the same formula: q (psf), strip edges (ft), depth (ft), printed pressure (psf).
STRIPS = [
    (250, 6, 20, 12, 83.6),  # App. C example 1, R1 (ranked check 17)
    (300, 3, 15, 2, 150.1),  # 5-1.04, R1 (ranked check 18)
    (300, 3, 15, 4, 171.5),  # R1
    (300, 3, 15, 6, 149.3),  # C
    (300, 3, 15, 8, 121.4),  # C
    (300, 3, 15, 10, 96.4),  # R1
    (300, 0, 20, 12, 112.53),  # App. C table value, R1
    (300, 0, 6, 12, 12.16),  # R1
    (1000, 30, 60, 10, 187.47),  # App. C example 2, R1 (edge distances inferred from the table)
]


@pytest.mark.parametrize(("q", "near", "far", "z", "printed"), STRIPS)
def test_strips_give_the_printed_pressure(
    q: float, near: float, far: float, z: float, printed: float
) -> None:
    assert s.strip(q, near, far, z) == pytest.approx(printed, rel=0.002)
    in_si = s.strip(q * KPA_PER_PSF, near * M_PER_FT, far * M_PER_FT, z * M_PER_FT)
    assert in_si / KPA_PER_PSF == pytest.approx(printed, rel=0.002)


def test_two_strips_add_up_to_the_printed_sum() -> None:
    """Caltrans App. C example 2: road and building, 283.47 psf, R1."""
    assert s.strip(300, 9, 21, 10) + s.strip(1000, 30, 60, 10) == pytest.approx(283.47, rel=0.002)


# Caltrans 5-1.04, HS-20 truck in a 12 ft lane as wheel loads (R1 at n 0.2, 0.4, 1.0; C at 0.6, 0.8; ranked
# check 19). The manual prints 112.2 n^2/(0.36+n^2)^3 + 581.1 n^2/(1.44+n^2)^3, which is 1.77 Q m^2/H^2 with
# H 10 ft and m 0.6 and 1.2: so Q is 17,608 lb and 22,799 lb (C).
@pytest.mark.parametrize(
    ("n", "printed"), [(0.2, 77.3), (0.4, 150.4), (0.6, 144.1), (0.8, 113.1), (1.0, 84.6)]
)
def test_wheels_as_points_give_the_printed_pressure(n: float, printed: float) -> None:
    near, far = 112.2 / 1.77 / 0.36 * 100, 581.1 / 1.77 / 1.44 * 100
    assert theory.point(near, 10, 0.6, n) + theory.point(far, 10, 1.2, n) == pytest.approx(printed, rel=0.002)


# The SI table of the project's reference figures, H 2.0 m, z 0.4 to 2.0 m: mark C, from Caltrans eq. 5-1-2 to
# 5-1-6 (R1).
DEPTHS = (0.4, 0.8, 1.2, 1.6, 2.0)


@pytest.mark.parametrize(
    ("load", "expected"),
    [
        (lambda z: s.strip(10, 0.6, 3.0, z), (5.00, 5.72, 4.98, 4.05, 3.22)),
        (lambda z: theory.line(10, 2.0, 0.3, z / 2.0), (5.00, 3.91, 2.22, 1.25, 0.74)),
        (lambda z: theory.line(10, 2.0, 0.5, z / 2.0), (3.80, 3.81, 2.58, 1.62, 1.02)),
        (lambda z: theory.point(20, 2.0, 0.3, z / 2.0), (7.00, 6.84, 3.58, 1.75, 0.90)),
        (lambda z: theory.point(20, 2.0, 0.5, z / 2.0), (3.63, 5.14, 3.51, 2.01, 1.13)),
        (lambda z: s.strip(14.364, 0.9144, 4.572, z / 2 * 3.048), (7.19, 8.21, 7.15, 5.81, 4.62)),
    ],
)
def test_si_table(load: Callable[[float], float], expected: tuple[float, ...]) -> None:
    assert [load(z) for z in DEPTHS] == pytest.approx(expected, abs=0.006)


def test_off_the_straight_line_a_point_presses_less() -> None:
    """Caltrans eq. 5-1-7 (R1), by hand: cos^2(1.1 x 0.5) = 0.7267."""
    assert theory.point_aside(10.0, 0.0) == 10.0
    assert theory.point_aside(10.0, 0.5) == pytest.approx(7.267, abs=0.001)


def test_uniform_load() -> None:
    """Caltrans 5-1.02, R1: 300 psf with K 0.33 is 99 psf."""
    assert s.uniform(0.33, 300) == pytest.approx(99)


@pytest.mark.parametrize(
    ("near", "far", "b", "z"), [(0.6, 3.0, 1.5, 0.8), (0.3, 0.9, 0.6, 0.5), (1, 3, 4, 2)]
)
def test_patch_is_the_point_solution_summed_over_it(near: float, far: float, b: float, z: float) -> None:
    """Boussinesq's point load (Poisson's ratio 0.5), doubled for a rigid face, integrated numerically."""
    per_area, _ = dblquad(
        lambda y, x: 3 * x * x * z / pi / (x * x + y * y + z * z) ** 2.5, near, far, -b / 2, b / 2
    )
    assert theory.patch(10, near, far, b, z) == pytest.approx(10 * per_area, rel=1e-6)


lengths = st.floats(0.05, 10)


REGISTRY = pint.UnitRegistry()
UNITS = {"": "", "m": "m", "kPa": "kPa", "kN": "kN", "kN/m": "kN/m", "kN/m3": "kN/m**3"}
FORMULAS: dict[str, Formula[Any]] = {
    name: found
    for module in (s, theory)
    for name, found in vars(module).items()
    if isinstance(found, Formula) and "φ" not in found.names  # angles: test_sizing_formulas.py
}
FIGURES = {"H": 2.0, "x_1": 0.6, "x_2": 3.0, "z": 0.8, "m": 0.7, "theta": 0.3}


@pytest.mark.parametrize("m", [0.3, 0.7])
@pytest.mark.parametrize("name", FORMULAS)
def test_every_formula_comes_out_in_the_unit_it_declares(name: str, m: float) -> None:
    """Run on pint quantities; figures that are not named are 1.5. The printed line shows the same value."""
    found = FORMULAS[name]
    figures = [(FIGURES | {"m": m}).get(n, 1.5) for n in found.names]
    quantities = [
        REGISTRY.Quantity(x, UNITS[found.units[n]]) for n, x in zip(found.names, figures, strict=True)
    ]
    result = found(*quantities)
    assert result.to(UNITS[found.units["return"]]).magnitude == pytest.approx(found(*figures))
    sheet = Sheet()
    assert f"= {on_sheet(sheet.work(found, *figures))} " in str(sheet.lines[0])


@given(near=lengths, wide=lengths, z=lengths)
def test_a_very_long_patch_is_a_strip(near: float, wide: float, z: float) -> None:
    assert theory.patch(10, near, near + wide, 1e5, z) == pytest.approx(
        s.strip(10, near, near + wide, z), abs=1e-6
    )


@given(near=lengths, wide=lengths, back=lengths, H=st.floats(0.5, 3))
def test_moving_a_heap_back_never_raises_its_peak(near: float, wide: float, back: float, H: float) -> None:
    def heap(x: float) -> float:
        return theory.peak(H, lambda z: s.strip(10, x, x + wide, z))[0]

    assert heap(near + back) <= heap(near) * 1.0001


@given(near=lengths, wide=lengths, b=lengths, H=st.floats(0.5, 3))
def test_a_patch_never_presses_more_than_the_strip_it_is_cut_from(
    near: float, wide: float, b: float, H: float
) -> None:
    patch, depth = theory.peak(H, lambda z: theory.patch(10, near, near + wide, b, z))
    assert 0 <= patch <= theory.peak(H, lambda z: s.strip(10, near, near + wide, z))[0] * 1.0001
    assert 0 < depth <= H
