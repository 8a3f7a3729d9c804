"""Trenches for the tests of sizing: told in a few words, sized with the real tables."""

from typing import Any

from knowledge.outcome import Ask, Refusal, Sized, Stop
from knowledge.reading import Details, Soil
from knowledge.sizing.size import size
from knowledge.tables import load

TABLES = load.load()
FT = 0.3048


def soil(text: str) -> Soil:
    """A soil as it is said: "firm clay", "very soft silt", "made ground", "type B"."""
    if text.startswith("type "):
        return Soil(type=text[-1])  # type: ignore[arg-type]
    if text == "made ground":
        return Soil(kind="made ground")
    *state, kind = text.split()
    return Soil(kind=kind, state=" ".join(state) or None)  # type: ignore[arg-type]


def told(depth: float | None, width: float | None, ground: str | None, **more: Any) -> Details:
    return Details(depth_m=depth, width_m=width, soil=soil(ground) if ground else None, **more)


def outcome(details: Details, rulebook: str = "uk", kit: str | None = None) -> Ask | Stop | Sized:
    return size(details, TABLES, rulebook, kit)  # type: ignore[arg-type]


def sized(details: Details, rulebook: str = "uk", kit: str | None = None) -> Sized:
    found = outcome(details, rulebook, kit)
    assert isinstance(found, Sized), found
    return found


def stopped(details: Details, rulebook: str = "uk", kit: str | None = None) -> dict[str, Refusal]:
    found = outcome(details, rulebook, kit)
    assert isinstance(found, Stop), found
    return {refusal.rule: refusal for refusal in found.stop}
