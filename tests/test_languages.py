"""Every language says all that English says, and is read as the contract says.

Source of the case tables: the reading contract; trade words are common practice, no source. Soil names follow
the national forms of EN ISO 14688-1/-2 (from memory), read as the weaker strength where a name spans two.
"""

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from bot import sayings, segments
from bot.reading.measure import differences
from bot.reading.read import read
from bot.reading.words import LINE, REF, Vocabulary, Words, load
from bot.sayings import Sayings
from knowledge import tables
from knowledge.tables import Tables

WORDS = Path(sayings.WORDS)
CASES = Path(__file__).parent / "cases" / "languages"
CODES = sorted(file.stem for file in WORDS.glob("*.toml") if file.stem != "en")
SECTIONS = ("say", "ask", "detail")
BLANK = re.compile(r"\{(\w+)\}")
DIGITS = re.compile(r"\d+")
PLAIN_KINDS = ("made ground", "peat", "chalk", "rock", "topsoil")
STATES = {
    **dict.fromkeys(("clay", "silt"), ("very soft", "soft", "firm", "stiff", "very stiff", "hard")),
    **dict.fromkeys(("sand", "gravel"), ("very loose", "loose", "medium dense", "dense", "very dense")),
}
SOILS = [(kind, None) for kind in PLAIN_KINDS]
SOILS += [(kind, state) for kind, states in STATES.items() for state in states]


@pytest.fixture(scope="module")
def words() -> Words:
    return load()


@pytest.fixture(scope="module")
def core() -> Tables:
    return tables.load()


@pytest.fixture(scope="module")
def english(core: Tables) -> Sayings:
    return sayings.load(core)["en"]


def _file(code: str) -> dict[str, Any]:
    return tomllib.loads((WORDS / f"{code}.toml").read_text(encoding="utf-8"))


def _rows() -> list[Any]:
    rows = []
    for file in sorted(CASES.glob("*.toml")):
        for number, case in enumerate(tomllib.loads(file.read_text(encoding="utf-8"))["case"], 1):
            rows.append(pytest.param(file.stem, case, id=f"{file.stem}-{number}-{case['text'][:50]}"))
    return rows


def test_the_four_languages_are_there() -> None:
    assert CODES == ["es", "pl", "pt", "ro"]


@pytest.mark.parametrize("code", CODES)
def test_every_sentence_is_there(code: str, english: Sayings, core: Tables) -> None:
    told = _file(code)
    wanted = {name: set(getattr(english, name)) for name in SECTIONS}
    assert {
        name: wanted[name] ^ set(told[name]) for name in SECTIONS if wanted[name] != set(told[name])
    } == {}
    assert set(english.rules) - set(sayings.translated(told["rules"], english.rules)) == set()
    assert set(told["rules"]) - set(english.rules) == set()


@pytest.mark.parametrize("code", CODES)
def test_a_stop_a_question_or_a_must_do_that_is_missing_is_seen(code: str, english: Sayings) -> None:
    rules = _file(code)["rules"]
    for gone in ("running", "water.instead", "hazard.out", "ends-open"):
        kept = {name: say for name, say in rules.items() if name != gone}
        assert gone not in sayings.translated(kept, english.rules)


@pytest.mark.parametrize("code", CODES)
def test_blanks_are_those_of_english(code: str, core: Tables, english: Sayings) -> None:
    own = sayings.load(core)[code]
    for name in (*SECTIONS, "rules"):
        for key, sentence in getattr(english, name).items():
            assert set(BLANK.findall(getattr(own, name)[key])) == set(BLANK.findall(sentence)), key


@pytest.mark.parametrize("code", CODES)
def test_no_digit_stands_in_a_sentence_but_those_of_an_example(
    code: str, core: Tables, english: Sayings
) -> None:
    own = sayings.load(core)[code]
    for name in (*SECTIONS, "rules"):
        for key, sentence in getattr(own, name).items():
            assert DIGITS.findall(sentence) == DIGITS.findall(getattr(english, name)[key]), key


@pytest.mark.parametrize("code", CODES)
def test_no_sentence_needs_the_dear_alphabet(code: str, core: Tables) -> None:
    own = sayings.load(core)[code]
    for name in (*SECTIONS, "terms", "rules"):
        for key, sentence in getattr(own, name).items():
            assert segments.is_gsm(segments.to_gsm(sentence)), key


@pytest.mark.parametrize("code", CODES)
def test_each_danger_and_each_fact_that_holds_people_out_has_its_term(code: str, core: Tables) -> None:
    terms = _file(code)["terms"]
    facts = {row.fact for row in core.entry.fact.values()}
    assert (set(core.hazards.hazard) | facts) - set(terms) == set()


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize(("kind", "state"), SOILS)
def test_a_soil_as_said_is_read_as_the_same_soil(
    code: str, kind: str, state: str | None, words: Words
) -> None:
    term = _file(code)["terms"][f"{state} {kind}" if state else kind]
    for said in (term, segments.to_gsm(term)):
        heard = read(said, words, language=code)
        assert heard.reading.soil is not None
        assert (heard.reading.soil.kind, heard.reading.soil.state) == (kind, state)


@pytest.mark.parametrize("code", CODES)
def test_every_danger_can_be_said(code: str, words: Words) -> None:
    """For each hazard, and each thing done that can be taken back, some fact has words in the language."""
    language = words.languages[code].vocabulary
    meanings = {meaning for fact in language.facts for meaning in (*fact.means, *fact.denied)}
    wanted = {meaning for meaning in meanings if meaning.startswith(("hazard ", "done ", "undone "))}
    said = {
        meaning
        for fact in language.facts
        if all(_sayable(language, names) for names in (fact.thing, fact.state) if names)
        for meaning in (*fact.means, *fact.denied)
    }
    assert wanted - said == set()


def _sayable(language: Vocabulary, names: tuple[str, ...]) -> bool:
    return any(name in (REF, LINE) or language.say[name] for name in names)


@pytest.mark.parametrize("code", CODES)
def test_there_are_enough_cases(code: str) -> None:
    assert len(tomllib.loads((CASES / f"{code}.toml").read_text(encoding="utf-8"))["case"]) >= 40


@pytest.mark.parametrize(("code", "case"), _rows())
def test_reads_as_the_contract_says(code: str, case: dict[str, Any], words: Words) -> None:
    asked = tuple(case.get("asked", ()))
    heard = read(case["text"], words, asked, case.get("earlier", ""), case.get("spoken", "en"))
    got, wanted = heard.reading.public(), dict(case["expect"])
    if asked:  # an answer is not called on for what else is untold
        got["questions"] = [name for name in got.get("questions", []) if name in asked]
    free = set(case.get("free", ()))
    for reading in (got, wanted):
        reading["questions"] = [name for name in reading.get("questions", []) if name not in free]
    assert differences(got, wanted, free) == {}
    assert heard.manner.language == case.get("in", code)
