"""Trenches that meet or turn, and surfaces that overhang: from texts in every language to what comes of them.

Common practice, no source; the trenches are invented.
"""

import pytest
from complete_day import Day
from test_tried_first import turn

from bot.channels import segments
from bot.config.basis import Basis
from knowledge.outcome import Ask, Sized, Stop

EN = "T7 depth 1.6 width 0.9 length 6 firm clay"
ES = "T7 profundidad 1,6 ancho 0,9 largo 6 arcilla firme"
PT = "T7 profundidade 1,6 largura 0,9 comprimento 6 argila firme"
PL = "T7 głębokość 1,6 szerokość 0,9 długość 6 ił twardoplastyczny"
RO = "T7 adâncime 1,6 lățime 0,9 lungime 6 argilă vârtoasă"
LIKE = {"en": EN, "es": ES, "pt": PT, "pl": PL, "ro": RO}


CORNERS = [
    ("en", "L shaped"),
    ("en", "L-shaped"),
    ("en", "T shaped"),
    ("en", "dog leg"),
    ("en", "turns a corner"),
    ("en", "corner at 3 m"),
    ("en", "T junction at 3 m"),
    ("en", "joins another trench"),
    ("es", "en forma de L"),
    ("es", "hace esquina"),
    ("es", "se une a otra zanja"),
    ("pt", "em forma de L"),
    ("pt", "dobra a esquina"),
    ("pt", "cruza outra vala"),
    ("pl", "w kształcie L"),
    ("pl", "skręca za róg"),
    ("pl", "łączy się z innym wykopem"),
    ("ro", "în formă de L"),
    ("ro", "face colț"),
    ("ro", "se leagă de alt șanț"),
]


@pytest.mark.parametrize(("language", "said"), CORNERS)
def test_a_corner_or_junction_is_a_stop_that_says_why(language: str, said: str, basis: Basis) -> None:
    """A strut wants a face opposite: engineering basis, ends and pits."""
    found = turn(f"{LIKE[language]}, {said}", basis)
    assert isinstance(found.outcome, Stop), found.reply.text
    assert [refusal.rule for refusal in found.outcome.stop] == ["junction"]
    assert not found.reading.unread


@pytest.mark.parametrize(
    "said",
    [
        "on the corner of Mill Lane",
        "T-junction at the top of Mill Lane",
        "no corner in it",
        "straight",
    ],
)
def test_a_corner_of_two_streets_is_an_address(said: str, basis: Basis) -> None:
    found = turn(f"{EN} no slab, {said}", basis)
    assert found.reading.junction is None
    assert not isinstance(found.outcome, Stop)


OVERHANGS = [
    ("en", "slab 0.2 m, overhangs 0.1 m"),
    ("en", "slab 200 mm overhanging 100 mm"),
    ("en", "concrete 0.2 thick, it hangs over by 0.1"),
    ("es", "losa 0,2, voladizo 0,1"),
    ("pt", "laje 0,2, em balanço 0,1"),
    ("pl", "płyta 0,2, nawis 0,1"),
    ("ro", "dală 0,2, în consolă 0,1"),
]


@pytest.mark.parametrize(("language", "said"), OVERHANGS)
def test_a_surface_that_overhangs_is_propped_and_its_props_are_counted(
    language: str, said: str, basis: Basis
) -> None:
    found = turn(f"{LIKE[language]}, {said}", basis)
    assert isinstance(found.outcome, Sized), found.reply.text
    assert (found.reading.pavement_m, found.reading.overhang_m) == (0.2, 0.1)
    assert found.outcome.props is not None and found.outcome.props.units == 6
    said_first = basis.catalogs[language].say["props"].partition("{units}")[0]
    assert segments.to_gsm(said_first) in segments.to_gsm(found.reply.text)


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", "slab 0.2 m, overhangs"),
        ("en", "slab 0.2 m, kerb overhanging"),
        ("es", "losa 0,2, en voladizo"),
        ("pt", "laje 0,2, em balanço"),
        ("pl", "płyta 0,2, nawis"),
        ("ro", "dală 0,2, în consolă"),
    ],
)
def test_how_far_it_overhangs_is_asked(language: str, said: str, basis: Basis) -> None:
    found = turn(f"{LIKE[language]}, {said}", basis)
    assert isinstance(found.outcome, Ask), found.reply.text
    assert "overhang_m" in found.outcome.questions


def test_a_crew_props_a_surface(basis: Basis) -> None:
    """Asked how far, told, sized with props; entry waits for them, the sketch and the next step name them."""
    day = Day(basis)
    assert "both sides" in day.say("F", f"{EN}, slab 0.2 m, overhangs").reply
    assert "6 more props" in day.say("F", "0.1 m").reply
    assert "props" in day.say("F", "T7 sketch").reply
    day.say("F", "T7 services located")
    day.say("F", "T7 dug to 0.8")
    assert "prop the edges" in day.say("F", "T7 next").reply
    assert "surface propped" in day.say("F", "T7 slab propped").reply
    assert "prop the edges" not in day.say("F", "T7 next").reply
    day.close()


@pytest.mark.parametrize(
    "said", ["slab overhangs, ladder in", "ladder in, kerb overhanging", "corner at 3 m, ladder in"]
)
def test_told_in_a_report_it_is_never_passed_over(said: str, basis: Basis) -> None:
    """Nothing is ticked off, or the plan is no longer that of the trench; and no YES is asked for props."""
    read = turn(f"T7 {said}", basis).reading
    assert read.left_over or read.junction
    assert "surface propped" not in (*read.done, *read.proposed)
