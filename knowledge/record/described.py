"""Two tellings of one thing put together: soil told in parts, services told one after another."""

from knowledge.reading import Beside, BuriedService, Soil
from knowledge.tables.sizing_figures import Soils


def soil_told(old: Soil | None, new: Soil) -> Soil:
    """A state alone ("firm") or a type alone adds to the soil told; another kind replaces it whole."""
    if old is None or (new.kind and new.kind != old.kind):
        return new
    return Soil(kind=old.kind, state=new.state or old.state, type=new.type or old.type)


def weaker(old: Soil, told: Soil, soils: Soils) -> bool:
    """Whether the soil as now told may be weaker than before; what cannot be ranked may be."""
    new = soil_told(old, told)
    if new.type != old.type and (old.type is None or (new.type or "C") > old.type):
        return True
    if (new.kind, new.state) == (old.kind, old.state):
        return False
    order = {name: place for place, name in enumerate(soils.rows)}
    before, now = order.get((old.kind, old.state)), order.get((new.kind, new.state))
    return before is None or now is None or now < before


def services_told(
    old: tuple[BuriedService, ...], new: tuple[BuriedService, ...]
) -> tuple[BuriedService, ...]:
    """A service told of stays; only one told more closely now ("gas", then "gas at two metres") goes."""

    def closer(known: BuriedService, told: BuriedService) -> bool:
        return known.what == told.what and all(
            getattr(known, name) in (None, getattr(told, name)) for name in ("at_m", "depth_m")
        )

    kept = (known for known in old if not any(closer(known, told) for told in new))
    return (*kept, *new)


def beside_told(old: tuple[Beside, ...], new: tuple[Beside, ...]) -> tuple[Beside, ...]:
    """What stands beside stays; only one of which more is told now ("a wall", then "wall 3 m off") goes."""

    def closer(known: Beside, told: Beside) -> bool:
        return known.what == told.what and known.at_m in (None, told.at_m)

    kept = (known for known in old if not any(closer(known, told) for told in new))
    return (*kept, *new)
