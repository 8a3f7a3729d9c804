"""No sized answer ever fails a check of the second, naive implementation (naive.py)."""

import os
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from naive import faults

from knowledge.outcome import Sized
from knowledge.reading import Beside, BesideWhat, BuriedService, Details, Ends, Soil, What
from knowledge.sizing.size import size
from knowledge.tables.load import Tables, load

TABLES: Tables = load()
EXAMPLES = int(os.environ.get("EXAMPLES", "1500"))

# The heap is as wide as what is dug holds, which a bank beside the trench makes no more of.
HEAP_BY_AN_EMBANKMENT = Details(
    depth_m=1.0,
    width_m=1.0,
    soil=Soil(kind="chalk"),
    face="stands",
    traffic=True,
    pavement_m=0.0,
    beside=(Beside(what="foundation", at_m=2.0), Beside(what="embankment", at_m=1.0, one_in=3.0)),
    surcharge_kpa=0.0,
)

clays = st.builds(
    Soil,
    kind=st.sampled_from(["clay", "silt"]),
    state=st.sampled_from(["very soft", "soft", "firm", "firm", "stiff", "stiff", "very stiff", "hard"]),
    type=st.none() | st.sampled_from(["A", "B", "C"]),
)
grains = st.builds(
    Soil,
    kind=st.sampled_from(["sand", "gravel"]),
    state=st.sampled_from(["very loose", "loose", "medium dense", "dense", "very dense"]),
)
others = st.builds(Soil, kind=st.sampled_from(["made ground", "chalk", "rock", "peat"]))
types = st.builds(Soil, type=st.sampled_from(["A", "B", "C"]))
services = st.builds(
    BuriedService,
    what=st.sampled_from(get_args(What)),
    at_m=st.none() | st.floats(0, 12).map(lambda x: round(x, 2)),
    depth_m=st.none() | st.floats(0.1, 2).map(lambda x: round(x, 2)),
)


things = st.builds(
    Beside,
    what=st.sampled_from(get_args(BesideWhat)),
    at_m=st.floats(0.5, 8).map(lambda x: round(x, 2)),
    deep_m=st.none() | st.floats(0, 2).map(lambda x: round(x, 2)),
    one_in=st.none() | st.floats(2, 14),
    held=st.none() | st.booleans(),
)


def metres(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths as crews tell them, and of any fineness."""
    return st.floats(low, high) | st.floats(low, high).map(lambda x: round(x, 1))


def maybe(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | values


def rarely(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.integers(0, 7).flatmap(lambda n: values if n == 0 else st.none())


def trenches(deepest: float, widest: float, soils: st.SearchStrategy[Soil]) -> st.SearchStrategy[Details]:
    return st.builds(
        Details,
        depth_m=metres(0.7, deepest),
        width_m=metres(0.35, widest),
        length_m=maybe(metres(0.5, 14)),
        soil=soils,
        water=st.sampled_from([None, *["dry"] * 8, *["damp"] * 4, "seeping"]),
        face=st.sampled_from([None, *["stands"] * 12, "ravelling"]),
        ends=maybe(st.sampled_from(get_args(Ends))),
        spoil_m=maybe(metres(0, 3)),
        plant_m=rarely(metres(0, 6)),
        plant_t=rarely(metres(0.5, 12)),
        traffic_m=rarely(metres(0.3, 5)),
        pit=rarely(st.just(True)),
        beside=st.integers(0, 5)
        .flatmap(lambda n: st.lists(things, max_size=2) if n == 0 else st.just([]))
        .map(tuple),
        traffic=maybe(st.booleans()),
        pavement_m=maybe(metres(0, 0.4)),
        services=st.lists(services, max_size=3).map(tuple),
        surcharge_kpa=rarely(st.floats(0, 52)),
        disturbed=maybe(st.booleans()),
        fissured=maybe(st.booleans()),
    )


@settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck))
@given(details=trenches(2.1, 1.5, clays | clays | grains | others | types))
def test_answers_by_the_light_kit(details: Details) -> None:
    found = size(details, TABLES, "uk")
    if isinstance(found, Sized):
        assert faults(details, found, TABLES) == []


@settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck))
@given(
    details=trenches(4.5, 4.9, clays | clays | clays | others | types),
    book=st.sampled_from(["us", "us", "uk"]),
)
@example(HEAP_BY_AN_EMBANKMENT, "us")
def test_answers_by_the_heavy_kit(details: Details, book: Any) -> None:
    found = size(details, TABLES, book, "heavy")
    if isinstance(found, Sized):
        assert faults(details, found, TABLES) == []


GOOD = Details(
    depth_m=1.6, width_m=0.9, length_m=6.0, soil=Soil(kind="clay", state="firm"), ends="battered", water="dry"
)


def test_a_sound_answer_passes() -> None:
    found = size(GOOD, TABLES)
    assert isinstance(found, Sized)
    assert faults(GOOD, found, TABLES) == []


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"pressure_kpa": 12.0}, "fluid with what is beside"),
        ({"stages_m": (1.1, 1.4, 1.6)}, "first bite"),
        ({"stages_m": (0.7, 1.4)}, "a stage for each level and the last"),
        ({"spacing_m": 4.0}, "spacing by practice"),
        ({"spacing_m": 1.2}, "the ground bears a rail"),
        ({"spacing_m": 1.5}, "the ground bears a rail at every stage"),
        ({"spacing_m": 0.7}, "not close sheeting"),
        ({"spacing_m": 1.25}, "spacing by the supplier's table"),
        ({"pressure_bar": (28.0, 30.0)}, "two gauges fit into the band"),
        ({"spacing_m": 3.0}, "no wedge is pushed up to the surface"),
        ({"pressure_bar": (20.0, 51.0)}, "least 400 psi"),
        ({"pressure_bar": (28.0, 52.0)}, "most 750 psi"),
        ({"units": 3}, "units add up"),
        ({"soil_type": "A"}, "type"),
    ],
)
def test_a_spoilt_answer_is_found_out(change: dict[str, Any], fault: str) -> None:
    found = size(GOOD, TABLES)
    assert isinstance(found, Sized)
    assert fault in faults(GOOD, found.model_copy(update=change), TABLES)


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"depth_m": 2.1}, "kit depth"),
        ({"water": "seeping"}, "no water"),
        ({"face": "running"}, "face stands"),
        ({"soil": Soil(kind="clay", state="soft")}, "fluid with what is beside"),
        ({"services": (BuriedService(what="gas", at_m=1.8, depth_m=0.5),)}, "clear of services"),
        ({"pavement_m": 0.4}, "rails below the slab"),
        ({"width_m": 1.2}, "face to face"),
        ({"surcharge_kpa": 40.0}, "fluid with 72 psf"),
        ({"pit": True}, "no pit"),
        ({"length_m": 1.3}, "no pit"),
        ({"traffic": True}, "surface of a street told"),
        ({"traffic_m": 0.5}, "no traffic at the edge"),
        ({"plant_m": 1.0}, "plant clear"),
        ({"beside": (Beside(what="foundation", at_m=1.6),)}, "clear of what stands beside"),
        ({"beside": (Beside(what="slope", one_in=2.5),)}, "no steep slope"),
    ],
)
def test_an_answer_to_another_trench_is_found_out(change: dict[str, Any], fault: str) -> None:
    found = size(GOOD, TABLES)
    assert isinstance(found, Sized)
    assert fault in faults(GOOD.model_copy(update=change), found, TABLES)
