"""A measured test of the air is judged, not ticked."""

from knowledge.reading import Air, Done, Hazard, Reading
from knowledge.tables.entry_rules import AirLimits


def air_judged(reading: Reading, limits: AirLimits) -> Reading:
    """The reading with what its air figures come to: outside any limit the hazard `gas` and no air test;
    inside all, with oxygen and flammable gas among them, the air test."""
    if reading.air is None:
        return reading
    done: tuple[Done, ...] = tuple(each for each in reading.done if each != "air test")
    if not all(getattr(limits, name).holds(value) for name, value in _measured(reading.air)):
        hazards: tuple[Hazard, ...] = tuple(dict.fromkeys((*reading.hazards, "gas")))
        return reading.model_copy(update={"done": done, "hazards": hazards})
    if reading.air.oxygen_pct is None or reading.air.lel_pct is None:
        return reading
    return reading.model_copy(update={"done": (*done, "air test")})


def _measured(air: Air) -> list[tuple[str, float]]:
    return [(name, value) for name in Air.model_fields if (value := getattr(air, name)) is not None]
