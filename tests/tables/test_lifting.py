"""The HSE lifting and lowering filter (ranked check 38): L23 appendix, mark R2; teams from memory (M-H)."""

import pytest

from knowledge.sourced import parse
from knowledge.tables.lifting import Height, Lifting, Reach, Who
from knowledge.tables.load import DATA

LIFTING = parse(DATA / "lifting.toml", Lifting)

FILTER: list[tuple[Height, int, int, int, int]] = [
    ("above shoulder", 10, 5, 7, 3),
    ("shoulder to elbow", 20, 10, 13, 7),
    ("elbow to knuckle", 25, 15, 16, 10),
    ("knuckle to mid lower leg", 20, 10, 13, 7),
    ("below mid lower leg", 10, 5, 7, 3),
]


@pytest.mark.parametrize(("height", "men", "men_out", "women", "women_out"), FILTER)
def test_every_box_as_printed(height: Height, men: int, men_out: int, women: int, women_out: int) -> None:
    boxes: list[tuple[Who, Reach, int]] = [
        ("men", "close", men),
        ("men", "out", men_out),
        ("women", "close", women),
        ("women", "out", women_out),
    ]
    for who, reach, printed in boxes:
        assert LIFTING.capacity(height, reach, who) == printed
    assert LIFTING.capacity(height, "close") == women


# Once or twice a minute 30% off, 5 to 8 a minute 50%, more than 12 a minute 80%; up to about 30 an hour none.
@pytest.mark.parametrize(
    ("a_minute", "kg"), [(0, 25), (0.5, 25), (1, 17.5), (2, 17.5), (3, 12.5), (5, 12.5), (8, 12.5), (13, 5)]
)
def test_often_takes_off(a_minute: float, kg: float) -> None:
    assert LIFTING.capacity("elbow to knuckle", "close", "men", a_minute) == pytest.approx(kg)


@pytest.mark.parametrize(("twist", "kg"), [(0, 25), (45, 25), (46, 22.5), (90, 22.5), (91, 20)])
def test_twisting_takes_off(twist: float, kg: float) -> None:
    assert LIFTING.capacity("elbow to knuckle", "close", "men", twist=twist) == pytest.approx(kg)


@pytest.mark.parametrize(
    ("mass", "hands"), [(5, 1), (16, 1), (16.1, 2), (21.3, 2), (21.4, 3), (24, 3), (25, None)]
)
def test_hands_for_whoever_is_there(mass: float, hands: int | None) -> None:
    """Women's 16 kg: two lift 2/3 of 32, three half of 48 (team shares M-H)."""
    assert LIFTING.hands(mass) == hands


def test_lowering_a_unit_at_arms_length_is_for_three_kilograms() -> None:
    """Lowest band, arms out: 3 kg (5 kg men); so a unit goes in by rope or hook (C, reading of the table)."""
    assert LIFTING.capacity("below mid lower leg", "out") == 3
