"""A sized trench made by hand, for tests of what is done with one."""

from knowledge.outcome import GroundName, HoldsTo, Level, Sized, Strut


def sized(**changes: object) -> Sized:
    """Two levels in 1.6 m of firm clay, 6 m long, by the light kit; all figures set, none worked."""
    at = (0.75, 2.25, 3.75, 5.25)
    made = Sized(
        units=8,
        levels=(
            Level(depth_m=0.4, units=4, positions_m=at),
            Level(depth_m=1.1, units=4, positions_m=at),
        ),
        spacing_m=1.5,
        strut=Strut(
            size="short",
            extensions_m=(0.25,),
            length_m=(0.55, 0.69),
            needed_m=0.63,
            capacity_kn=39.0,
            load_kn=20.0,
        ),
        pressure_bar=(27.6, 51.7),
        stages_m=(0.7, 1.4, 1.6),
        boards=False,
        holds_to=HoldsTo(depth_m=1.7, width_m=0.8, soil=GroundName(kind="clay", state="firm")),
        pressure_kpa=15.0,
        pressure_by="fluid",
        soil_type="B",
        rulebook="uk",
        kit="light",
    )
    return made.model_copy(update=changes)
