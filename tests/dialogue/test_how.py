"""How a unit is made ready, set and taken out, asked for in five languages."""

from typing import get_args

import pytest
from shipped import shipped

from bot.channels import segments
from bot.dialogue import replies
from knowledge.entry.steps import how_to
from knowledge.reading import How

BASIS = shipped()
LANGUAGES = sorted(BASIS.catalogs)

ASKED: dict[str, dict[How, list[str]]] = {
    "en": {
        "ready": ["how do i prepare one", "How do we get one ready?", "how to prepare"],
        "set": [
            "how do I set one",
            "T3 how do we set a unit?",
            "how to set",
            "how do you fit one",
            "how do i put one in",
        ],
        "out": ["how do I take one out", "how do we get one out", "how to remove", "how do i remove one"],
    },
    "es": {
        "ready": ["cómo preparo uno"],
        "set": ["como pongo un puntal", "cómo se pone"],
        "out": ["cómo saco uno"],
    },
    "pt": {"ready": ["como preparo uma"], "set": ["como ponho uma escora"], "out": ["como tiro uma"]},
    "pl": {"ready": ["jak przygotować jedną"], "set": ["jak ustawic rozpore"], "out": ["jak wyjąć jedną"]},
    "ro": {"ready": ["cum pregătesc unul"], "set": ["cum pun unul"], "out": ["cum scot un șpraiț"]},
}
CASES = [(code, how, text) for code, asked in ASKED.items() for how, texts in asked.items() for text in texts]


@pytest.mark.parametrize(("code", "how", "text"), CASES)
def test_how_is_asked_for_in_the_words_of_crews(code: str, how: How, text: str) -> None:
    reading = BASIS.readers.read(text, language=code).reading
    assert (reading.purpose, reading.how) == ("steps", how)
    assert "how" not in reading.public()


@pytest.mark.parametrize(
    "text",
    [
        "what next",
        "what order do they come out",
        "how do we put them in T3",
        "T7 all units set all at 40 bar",
        "set one more on level 2",
        "how do i set the ladder",
        "took one out",
    ],
)
def test_the_next_step_a_report_and_other_things_do_not_ask_how(text: str) -> None:
    assert BASIS.readers.read(text).reading.how is None


@pytest.mark.parametrize("code", LANGUAGES)
@pytest.mark.parametrize("how", get_args(How))
def test_every_line_fits_into_the_reply(code: str, how: How) -> None:
    """A line left out for want of room would be the one that hurts somebody."""
    catalog = BASIS.catalogs[code]
    lines = [catalog.sentence(line, "m") for line in how_to(how, "uk", BASIS.tables)]
    more = catalog.say["how-more"]
    text = replies.fit(lines, last=more)
    assert text == segments.to_gsm(" ".join([*lines, more]))
    assert segments.count(text).parts <= replies.MOST_SEGMENTS


@pytest.mark.parametrize("code", LANGUAGES)
def test_what_it_leads_on_to_is_understood(code: str) -> None:
    """ "More: HOW TO PREPARE, SET, REMOVE": each of them, sent as it stands, is answered."""
    first, *rest = BASIS.catalogs[code].say["how-more"].split(": ")[1].rstrip(".").split(", ")
    spoken = code.partition("-")[0]  # American English is read as English
    shared = first.rpartition(" ")[0] if spoken == "en" else ""
    asked = [first, *(f"{shared} {one}".strip() for one in rest)]
    assert [BASIS.readers.read(one, language=spoken).reading.how for one in asked] == list(get_args(How))
