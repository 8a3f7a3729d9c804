"""Every language says all that English says, and is read as the contract says.

Source of the case tables: the reading contract; trade words are common practice, no source. Soil names follow
the national forms of EN ISO 14688-1/-2 (from memory), read as the weaker strength where a name spans two.
"""

import re
import tomllib
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from bot.channels import segments
from bot.config.basis import Basis
from bot.config.people import People
from bot.dialogue.context import Context
from bot.dialogue.conversation import converse
from bot.language import catalog, lexicon
from bot.language.catalog import Catalog
from bot.language.lexicon import Lexicon
from bot.language.schema import LINE, REF, Vocabulary
from bot.message import Message, Person, Site, Thread, Turn
from bot.reading.accuracy import differences
from bot.reading.read import read
from knowledge.outcome import Entry, Sized
from knowledge.record.trench import Trench
from knowledge.tables import load
from knowledge.tables.load import Tables

WORDS = Path(catalog.WORDS)
CASES = Path(__file__).parents[1] / "cases" / "languages"
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
def words() -> Lexicon:
    return lexicon.load()


@pytest.fixture(scope="module")
def core() -> Tables:
    return load.load()


@pytest.fixture(scope="module")
def english(core: Tables) -> Catalog:
    return catalog.load(core)["en"]


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
def test_every_sentence_is_there(code: str, english: Catalog, core: Tables) -> None:
    told = _file(code)
    wanted = {name: set(getattr(english, name)) for name in SECTIONS}
    assert {
        name: wanted[name] ^ set(told[name]) for name in SECTIONS if wanted[name] != set(told[name])
    } == {}
    assert set(english.rules) - set(catalog.translated(told["rules"], english.rules)) == set()
    assert set(told["rules"]) - set(english.rules) == set()


@pytest.mark.parametrize("code", CODES)
def test_a_stop_a_question_or_a_must_do_that_is_missing_is_seen(code: str, english: Catalog) -> None:
    rules = _file(code)["rules"]
    for gone in ("running", "water.instead", "hazard.out", "ends-open"):
        kept = {name: say for name, say in rules.items() if name != gone}
        assert gone not in catalog.translated(kept, english.rules)


@pytest.mark.parametrize("code", CODES)
def test_blanks_are_those_of_english(code: str, core: Tables, english: Catalog) -> None:
    own = catalog.load(core)[code]
    for name in (*SECTIONS, "rules"):
        for key, sentence in getattr(english, name).items():
            assert set(BLANK.findall(getattr(own, name)[key])) == set(BLANK.findall(sentence)), key


@pytest.mark.parametrize("code", CODES)
def test_no_digit_stands_in_a_sentence_but_those_of_an_example(
    code: str, core: Tables, english: Catalog
) -> None:
    own = catalog.load(core)[code]
    for name in (*SECTIONS, "rules"):
        for key, sentence in getattr(own, name).items():
            assert DIGITS.findall(sentence) == DIGITS.findall(getattr(english, name)[key]), key


@pytest.mark.parametrize("code", CODES)
def test_no_sentence_needs_the_dear_alphabet(code: str, core: Tables) -> None:
    own = catalog.load(core)[code]
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
    code: str, kind: str, state: str | None, words: Lexicon
) -> None:
    term = _file(code)["terms"][f"{state} {kind}" if state else kind]
    for said in (term, segments.to_gsm(term)):
        heard = read(said, words, language=code)
        assert heard.reading.soil is not None
        assert (heard.reading.soil.kind, heard.reading.soil.state) == (kind, state)


@pytest.mark.parametrize("code", CODES)
def test_every_danger_can_be_said(code: str, words: Lexicon) -> None:
    """For each hazard, and each thing done that can be taken back, some fact has words in the language."""
    language = words.languages[code].vocabulary
    meanings = {meaning for fact in language.facts for meaning in (*fact.means, *fact.denied)}
    wanted = {meaning for meaning in meanings if meaning.group in ("hazard", "done", "undone")}
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
def test_reads_as_the_contract_says(code: str, case: dict[str, Any], words: Lexicon) -> None:
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


def test_no_other_language_takes_an_english_message(words: Lexicon) -> None:
    files = sorted((CASES.parent / "reading").glob("*.toml"))
    cases = [case for file in files for case in tomllib.loads(file.read_text(encoding="utf-8"))["case"]]
    assert len(cases) > 900
    assert {case["text"] for case in cases if read(case["text"], words).manner.language != "en"} == set()


def test_accents_may_be_left_out(words: Lexicon) -> None:
    for row in _rows():
        code, case = row.values
        asked, spoken = tuple(case.get("asked", ())), case.get("spoken", code)
        plain, written = (
            read(text, words, asked, language=spoken).reading.public()
            for text in (segments.to_gsm(case["text"]), case["text"])
        )
        assert differences(plain, written, {"unread"}) == {}, case["text"]


# --- the whole road ---

SAM, ALEX = "+447700900123", "+447700900124"
AT = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
PEOPLE = People([Person(SAM, "Sam", "fitter", "Yard"), Person(ALEX, "Alex", "supervisor", "Yard")])
SIZINGS = {
    "pl": "głębokość 1,6 szerokość 0,9 długość 6 glina twardoplastyczna sucho",
    "ro": "adâncime 1,6 lățime 0,9 lungime 6 argilă vârtoasă uscat",
    "es": "profundidad 1,6 ancho 0,9 largo 6 arcilla firme seco",
    "pt": "profundidade 1,6 largura 0,9 comprimento 6 argila firme seco",
}
DANGERS = {
    "pl": "ściana się osuwa",
    "ro": "s-a surpat malul",
    "es": "se está cayendo la pared",
    "pt": "a parede está a cair",
}
ENTRIES = {"pl": "można wchodzić?", "ro": "putem intra?", "es": "¿podemos entrar?", "pt": "podemos entrar?"}


@dataclass
class Talk:
    """A fitter's conversation: each text is answered with all that was said before."""

    basis: Basis
    thread: Thread | None = None
    trenches: dict[str, Trench] = field(default_factory=dict)
    texts: int = 0

    def say(self, text: str) -> Turn:
        self.texts += 1
        now = AT + timedelta(minutes=self.texts)
        said = Message(
            id=str(self.texts), channel="kannel", sender=SAM, text=text, sent_at=now, received_at=now
        )
        next_ref = f"T{len(self.trenches) + 1}"
        context = Context(now, PEOPLE.find(SAM), Site("Yard"), self.thread, self.trenches, PEOPLE, next_ref)
        turn = converse(said, context, self.basis.tables, self.basis.readers, self.basis.catalogs)
        self.thread = turn.thread
        self.trenches |= {trench.ref: trench for trench in turn.trenches}
        return turn


def _opening(sentence: str) -> str:
    """The words of a sentence up to its first blank, as they are sent."""
    return segments.to_gsm(sentence.partition("{")[0]).strip()


@pytest.mark.parametrize("code", CODES)
def test_a_sizing_is_answered_in_its_language_with_the_figures_of_english(code: str, basis: Basis) -> None:
    own, english = Talk(basis).say(SIZINGS[code]), Talk(basis).say("1.6 deep 0.9 wide 6 long firm clay dry")
    assert isinstance(own.outcome, Sized)
    assert own.outcome == english.outcome
    assert _opening(basis.catalogs[code].say["pump"]) in own.reply.text
    assert segments.to_gsm(basis.catalogs[code].term("firm clay")) in own.reply.text
    assert segments.is_gsm(own.reply.text)
    assert segments.count(own.reply.text).parts <= 3


@pytest.mark.parametrize("code", CODES)
def test_a_bare_answer_keeps_the_language_of_the_conversation(code: str, basis: Basis) -> None:
    talk = Talk(basis)
    asked = talk.say(SIZINGS[code].partition(" 1,6 ")[2])
    assert segments.to_gsm(basis.catalogs[code].ask["depth_m"]) in asked.reply.text
    sized = talk.say("1,6")
    assert isinstance(sized.outcome, Sized)
    assert sized.manner.language == code
    assert _opening(basis.catalogs[code].say["pump"]) in sized.reply.text


@pytest.mark.parametrize("text", ["sta", "STA T1", "CO", "T1 CO 3 ppm"])
def test_a_word_cut_short_turns_nobody_to_another_language(text: str, basis: Basis) -> None:
    talk = Talk(basis)
    talk.say("T1 depth 1.6 width 0.9 firm clay")
    assert talk.say(text).manner.language == "en"
    assert talk.say("status").manner.language == "en"


@pytest.mark.parametrize("code", CODES)
def test_a_reply_in_words_that_nobody_reviewed_says_so(code: str, basis: Basis) -> None:
    note = segments.to_gsm(basis.catalogs[code].say["unreviewed"])
    asked = Talk(basis).say(SIZINGS[code].partition(" 1,6 ")[2])
    assert asked.reply.text.endswith(note) is not bool(basis.words.languages[code].vocabulary.reviewed)


@pytest.mark.parametrize("code", CODES)
def test_danger_calls_out_the_crew_in_its_language_and_the_others_in_english_too(
    code: str, basis: Basis
) -> None:
    talk = Talk(basis)
    talk.say(SIZINGS[code])
    turn = talk.say(DANGERS[code])
    assert segments.to_gsm(basis.catalogs[code].rules["hazard.out"]) in turn.reply.text
    (alert,) = turn.alerts
    assert alert.to == ALEX
    assert "Collapse" in alert.text
    assert segments.to_gsm(basis.catalogs[code].term("fall of ground")).capitalize() in alert.text


@pytest.mark.parametrize("code", CODES)
def test_entry_is_refused_in_the_language_it_was_asked_in(code: str, basis: Basis) -> None:
    talk = Talk(basis)
    talk.say(SIZINGS[code])
    turn = talk.say(ENTRIES[code])
    assert isinstance(turn.outcome, Entry)
    assert turn.outcome.entry == "no"
    assert segments.to_gsm(basis.catalogs[code].say["entry-no"].partition(": ")[2]) in turn.reply.text
