"""The rules of entry as data: what the loader refuses, and what is said at once for each hazard."""

import tomllib
from itertools import pairwise
from typing import Any, get_args

import pytest
from trench_days import tables

from knowledge.entry.hazards import hazard_sentences
from knowledge.reading import Hazard
from knowledge.sourced import DataError, parse
from knowledge.tables.entry_rules import EntryRules, HazardRules
from knowledge.tables.load import DATA


def data(name: str) -> dict[str, Any]:
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def without(name: str, *path: str) -> dict[str, Any]:
    """A data file with one key taken out."""
    whole = data(name)
    *above, last = path
    part = whole
    for key in above:
        part = part[key]
    del part[last]
    return whole


@pytest.mark.parametrize(
    ("path", "named"),
    [
        (("fact", "ladder"), "rulebook uk must have each fact exactly once"),
        (("fact", "ladder", "source"), "fact.ladder.source"),
        (("fact", "ladder", "checked"), "fact.ladder.checked"),
        (("fact", "ladder", "say", "stale"), "fact.ladder"),
        (("fact", "spoil", "limit"), "fact.spoil"),
        (("roles", "office"), "office"),
        (("figure", "pause", "unit"), "pause"),
        (("watch", "open", "after"), "watch.open.after"),
        (("air", "limits", "us"), "air.limits: no limits for rulebook us"),
        (("air", "limits", "uk", "co_ppm"), "air.limits.uk.co_ppm"),
        (("air", "limits", "uk", "co_ppm", "source"), "air.limits.uk.co_ppm.source"),
        (("doubted",), "doubted"),
        (("fact", "stopped"), "no row for 'stopped'"),
        (("fact", "open-hazard", "say", "possible"), "fact.open-hazard"),
        (("figure", "leave_sleeps"), "figure.leave_sleeps"),
    ],
)
def test_the_loader_names_what_is_wrong(path: tuple[str, ...], named: str) -> None:
    with pytest.raises(DataError) as caught:
        parse(DATA / "entry.toml", EntryRules, without("entry", *path))
    assert str(caught.value).startswith("entry.toml: ")
    assert named in str(caught.value)


def test_a_digit_in_a_sentence_is_refused() -> None:
    whole = data("entry")
    whole["fact"]["ladder"]["say"]["untold"] = "No ladder within 8 m."
    with pytest.raises(DataError, match="digit"):
        parse(DATA / "entry.toml", EntryRules, whole)


def test_an_air_limit_that_nothing_can_meet_is_refused() -> None:
    whole = data("entry")
    whole["air"]["limits"]["us"]["oxygen_pct"]["high"] = 19.0
    with pytest.raises(DataError, match=r"air\.limits\.us\.oxygen_pct: .*low is above high"):
        parse(DATA / "entry.toml", EntryRules, whole)


def test_a_hazard_without_a_rule_is_refused() -> None:
    with pytest.raises(DataError, match="frost"):
        parse(DATA / "hazards.toml", HazardRules, without("hazards", "hazard", "frost"))


@pytest.mark.parametrize("kind", get_args(Hazard))
@pytest.mark.parametrize("rulebook", ["uk", "us"])
def test_every_hazard_calls_everyone_out(kind: Hazard, rulebook: str) -> None:
    said = [each.say for each in hazard_sentences([kind], rulebook, tables)]  # type: ignore[arg-type]
    ring = {"uk": ("999", "0800 111 999"), "us": ("911",)}[rulebook]
    assert said[0] == "EVERYONE OUT now."
    assert said[-1] == "Nobody in until the supervisor has inspected again."
    assert any(number in each for number in ring for each in said[1:-1])
    assert len(said) == 3 + ("hazard.ring" in ids(kind, rulebook))
    assert not any("{" in each for each in said)


def ids(kind: Hazard, rulebook: str) -> list[str]:
    return [each.id for each in hazard_sentences([kind], rulebook, tables)]  # type: ignore[arg-type]


@pytest.mark.parametrize(("rulebook", "number"), [("uk", "999"), ("us", "911")])
def test_a_person_hurt_comes_right_after_everyone_out(rulebook: str, number: str) -> None:
    """Out, do not go in after them, ring: common practice, no source."""
    said = [each.say for each in hazard_sentences(["crack", "person hurt"], rulebook, tables)]  # type: ignore[arg-type]
    assert said[0] == "EVERYONE OUT now."
    assert said[1] == f"Do not go in after them: it can come down again. Ring {number}."
    assert said[2].startswith("Cracks")
    assert said[3].startswith("Nobody in")
    assert len(said) == 4


# What kills at once first, what weakens the ground last; common practice, no source.
BY_DANGER: tuple[Hazard, ...] = (
    "person hurt", "strike", "gas", "fall of ground", "movement", "pressure loss", "pressure rise",
    "fluid leak", "crack", "water", "plant close", "rain", "frost", "other",
)  # fmt: skip


@pytest.mark.parametrize(("worse", "other"), list(pairwise(BY_DANGER)))
def test_of_two_hazards_the_worse_is_said_first(worse: Hazard, other: Hazard) -> None:
    said = [each.id for each in hazard_sentences([other, worse], "uk", tables)]
    assert said.index(f"hazard.{worse}") < said.index(f"hazard.{other}")


def test_no_hazard_no_alarm() -> None:
    assert hazard_sentences((), "uk", tables) == ()
