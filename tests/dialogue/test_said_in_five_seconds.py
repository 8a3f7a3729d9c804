"""What a crew does on reading a reply: the first words say it, and what keeps people out is never left out.

What each reply must say first is common practice, no source.
"""

import random
import tomllib
from datetime import UTC, datetime, tzinfo
from typing import get_args

import pytest
from complete_day import Day
from hypothesis import given
from hypothesis import strategies as st
from usual_replies import LANGUAGES, TEXTS, day

from bot.channels import segments
from bot.config.basis import Basis
from bot.dialogue import replies
from bot.dialogue.replies import ReplyWriter
from bot.language.catalog import spoken
from bot.message import Manner
from knowledge.entry.hazards import hazard_sentences
from knowledge.names import HAZARDS
from knowledge.outcome import Entry, Missing, Sized, Stop
from knowledge.reading import BuriedService, Details, Soil
from knowledge.sizing.size import size
from knowledge.sourced import Rulebook
from knowledge.tables.entry_rules import filled
from knowledge.units import Amount

BASIS = Basis.load()
TABLES = BASIS.tables
ZONE: tzinfo = UTC
FIRST = 60  # characters that a phone shows of a text before it is opened

# What the first words of each answer must tell, in English.
SAID_FIRST = {
    "plan": "T7: 14 units, max 1 m centres. Mark services. Dig to 0.75 m",
    "plan, length untold": "T8: 14 units per 6 m of trench",
    "plan, one level": "T6: 3 units, max 1.2 m centres. Mark services. Dig to",
    "plan, much to say": "Are the sides standing up on their own",
    "question": "How deep?",
    "refusal": "T4 STOP, nobody in.",
    "next, not yet": "T7: not yet. First this. Services: locate and mark",
    "report": "T7 noted: services located. Still to do before entry:",
    "next step": "T7 next: Dig to 0.75 m, no deeper. Nobody in.",
    "entry, much to do": "T7: NOBODY IN. No units reported set",
    "report, units": "T7 noted: units set, 40 bar. Still to do before entry:",
    "report, depth": "T7 noted: dug to 1.6 m. Still to do before entry:",
    "report, ladder": "T7 noted: ladder. Still to do before entry:",
    "report, ends": "T7 noted: ends battered. NOBODY IN yet.",
    "report, spoil": "T7 noted: spoil 1.5 m back. NOBODY IN yet.",
    "report, air": "T7 noted: air test. NOBODY IN yet.",
    "entry, little to do": "T7: NOBODY IN. The supervisor has not inspected.",
    "inspection": "T7 noted: inspection. Nothing outstanding on record. WAIT",
    "entry, nothing outstanding": "T7: WAIT.",
    "allow": "T7: nobody in yet. A code went",
    "code": "T7: Alex has allowed entry until 12:",
    "status": "T4 STAY OUT:",
    "why": "T7: Ground pressure",
    "kit": "T7 load: rail",
    "sketch": "T7 unit positions, measured from the start.",
    "help": "T8: text each thing once it is done, like:",
    "unknown trench": "T77: NOBODY IN. It is not on record here. Open:",
    "danger, gas": "T7: EVERYONE OUT now. Gas: no flame",
    "danger, collapse": "T7: EVERYONE OUT now. Keep back from the edge",
    "entry after danger": "T7: NOBODY IN. Gas reported",
    "close, refused": "T7 NOT closed: units still in: 14.",
}


@pytest.fixture(scope="module", params=LANGUAGES)
def answered(request: pytest.FixtureRequest) -> tuple[str, dict[str, str]]:
    """A day's answers in one language, by kind."""
    return request.param, {each.kind: each.reply for each in day(request.param, BASIS)}


def test_the_first_words_say_what_to_do() -> None:
    said = {each.kind: each.reply[:FIRST] for each in day("en", BASIS)}
    assert said.keys() == SAID_FIRST.keys()
    assert {kind: text for kind, text in said.items() if not text.startswith(SAID_FIRST[kind])} == {}


def test_no_answer_of_a_day_is_longer_than_its_segments(answered: tuple[str, dict[str, str]]) -> None:
    language, replies_ = answered
    most = dict.fromkeys(replies_, 3) | ({"plan": 2, "plan, one level": 2} if language == "en" else {})
    parts = {kind: segments.count(text) for kind, text in replies_.items()}
    assert {kind: each for kind, each in parts.items() if each.parts > most[kind]} == {}
    assert {kind for kind, each in parts.items() if each.coding != "GSM"} == set()


def test_every_answer_about_entry_keeps_people_out(answered: tuple[str, dict[str, str]]) -> None:
    language, said = answered
    catalog = BASIS.catalogs[language]
    out, wait = (segments.to_gsm(catalog.say[key]) for key in ("entry-no", "entry-may"))
    no = out.partition(": ")[2]
    for kind in ("entry, much to do", "entry, little to do", "entry after danger", "unknown trench"):
        assert no.rstrip(".") in said[kind], kind
    assert wait.partition(": ")[2].partition(".")[0] in said["entry, nothing outstanding"]
    assert segments.to_gsm(catalog.say["nobody-in"]) in said["plan"]


def test_what_nobody_reviewed_says_so_once_a_day_and_on_every_plan_and_danger(
    answered: tuple[str, dict[str, str]],
) -> None:
    language, said = answered
    notes = [segments.to_gsm(BASIS.catalogs[language].say[k]) for k in ("unreviewed", "unreviewed-short")]
    if BASIS.words.languages[language].vocabulary.reviewed or language == "en":
        assert not any(note and note in text for text in said.values() for note in notes)
        return
    long, short = notes
    assert sum(long in text for text in said.values()) == 2  # once to each of the two who text
    for kind in (
        "plan",
        "plan, length untold",
        "plan, one level",
        "refusal",
        "danger, gas",
        "danger, collapse",
    ):
        assert short in said[kind], kind


def test_us_crews_are_answered_in_their_words_and_in_psi() -> None:
    said = {each.kind: each.reply for each in day("en", BASIS, "us")}
    plan = said["plan, one level"]
    assert " on center. Mark utilities. Dig to " in plan and " psi, must hold." in plan
    assert "call 911" in said["danger, collapse"] and "call 911" in said["danger, gas"]


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_one_stray_word_turns_no_conversation_and_who_asks_for_help_gets_it(language: str) -> None:
    rows = tomllib.loads(TEXTS.read_text(encoding="utf-8"))["text"]
    told = {row["kind"]: row[language] for row in rows}
    catalog, talk = BASIS.catalogs[language], Day(BASIS)
    talk.say("F", told["plan"])
    own = {segments.to_gsm(catalog.say[key].format(trench="T7")) for key in ("open-text", "chat")}
    assert any(talk.say("F", "sta").reply.startswith(text) for text in own)
    talk.say("F", told["plan, length untold"])  # and is asked how long
    helped = talk.say("F", BASIS.words.languages[language].vocabulary.purposes["help"][0]).reply
    assert segments.to_gsm(catalog.say["help-ask"]) in helped
    talk.close()


@pytest.mark.parametrize(
    ("language", "written"), [("es", "1 pie 4 pulg"), ("pt", "1 pé 4 pol"), ("en", "1 ft 4 in")]
)
def test_feet_are_written_as_the_language_writes_them(language: str, written: str) -> None:
    figures = BASIS.catalogs[language].figures
    assert figures.written("1 ft 4 in") == written
    assert figures.written("11 ft") == f"11 {figures.ft}"


# --- over trenches, states and languages at random ---

languages = st.sampled_from(LANGUAGES)
rulebooks = st.sampled_from(get_args(Rulebook))
manners = st.builds(
    Manner,
    lengths=st.sampled_from(["m", "mm", "ft", "in", None]),
    pressure=st.sampled_from(["bar", "psi", None]),
)
grounds = st.sampled_from(
    [
        ("clay", "firm"),
        ("clay", "stiff"),
        ("clay", "soft"),
        ("sand", "dense"),
        ("gravel", "dense"),
        ("peat", None),
    ]
)
services = st.lists(
    st.builds(
        BuriedService,
        what=st.sampled_from(["gas", "water", "electric"]),
        at_m=st.sampled_from([None, 1.5, 4.25]),
        depth_m=st.sampled_from([None, 0.7, 1.25]),
    ),
    max_size=2,
)
trenches = st.builds(
    Details,
    depth_m=st.floats(0.6, 2.4),
    width_m=st.floats(0.45, 1.4),
    length_m=st.none() | st.floats(3, 30),
    soil=grounds.map(lambda each: Soil(kind=each[0], state=each[1])),
    water=st.sampled_from([None, "dry", "damp", "standing"]),
    face=st.sampled_from([None, "stands"]),
    ends=st.sampled_from([None, "open", "battered"]),
    spoil_m=st.none() | st.floats(0.2, 2),
    traffic=st.sampled_from([None, "yes", "no"]),
    services=services.map(tuple),
)


def pen(language: str, rulebook: Rulebook = "uk", manner: Manner | None = None) -> ReplyWriter:
    catalog = spoken(BASIS.catalogs, language, rulebook)
    return ReplyWriter(catalog, manner or Manner(), ZONE, reviewed=language == "en")


def within(text: str) -> None:
    counted = segments.count(text)
    assert counted.parts <= replies.MOST_SEGMENTS, text
    assert counted.coding == "GSM", text


@given(details=trenches, language=languages, rulebook=rulebooks, manner=manners)
def test_a_plan_or_a_refusal_never_lacks_its_safety_sentence(
    details: Details, language: str, rulebook: Rulebook, manner: Manner
) -> None:
    outcome = size(details, TABLES, rulebook)
    writes = pen(language, rulebook, manner)
    if isinstance(outcome, Sized):
        text = replies.sized(writes, outcome, "T7", details, manner)
        assert segments.to_gsm(writes.say("nobody-in")) in text
        assert segments.to_gsm(writes.band(*outcome.pressure_bar)) in text
        if any(each.id == replies.LOCATE for each in outcome.cautions):
            assert segments.to_gsm(writes.say("services-first")) in text
        least = (
            3 if language == "en" else 2 if writes.lengths not in ("ft", "in") else 0
        )  # long in other words
        assert segments.to_gsm(", ".join(writes.details(details)[:least])) in text
        for stage in replies.dig(writes, outcome):
            assert segments.to_gsm(stage) in text
    elif isinstance(outcome, Stop):
        text = replies.stop(writes, outcome, "T7", details, manner)
        assert text.startswith(segments.to_gsm(writes.say("stop", trench="T7")))
    else:
        text = replies.fit(replies.ask(writes, outcome, "T7", details, manner, unsure=True))
        assert text.startswith(segments.to_gsm(writes.question(outcome.questions[0], details)))
    within(text)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("width", [0.75, 1.2])
@pytest.mark.parametrize("depth", [2.1, 2.15, 2.25, 2.4])
def test_the_longest_plan_still_says_how_deep_and_how_wide(language: str, depth: float, width: float) -> None:
    """Three levels, boards, two units of pressure, no length."""
    soil = Soil(kind="clay", state="firm")
    details = Details(depth_m=depth, width_m=width, soil=soil, water="damp", face="stands")
    outcome = size(details, TABLES, "us")
    if isinstance(outcome, Sized):
        writes = pen(language, "us")
        told = ", ".join(writes.details(details)[:2])
        assert segments.to_gsm(told) in replies.sized(writes, outcome, "T7", details, Manner())


@given(
    kinds=st.sets(st.sampled_from(HAZARDS), min_size=1, max_size=5),
    language=languages,
    rulebook=rulebooks,
    where=st.sampled_from(["T7", "T1, T5, T7", ""]),
)
def test_danger_calls_everyone_out_first_names_a_number_and_lets_nobody_in(
    kinds: set[str], language: str, rulebook: Rulebook, where: str
) -> None:
    writes = pen(language, rulebook)
    sentences = hazard_sentences(kinds, rulebook, TABLES)  # type: ignore[arg-type]
    text = replies.danger(writes, where, sentences)
    out, *_, stay_out = (segments.to_gsm(each) for each in writes.cautions(sentences))
    assert text.removeprefix(f"{where}: ").startswith(out)
    assert segments.to_gsm(stay_out) in text
    rules = TABLES.hazards
    assert any(getattr(each, rulebook) in text for each in (rules.emergency, rules.gas_line))
    within(text)


@given(seed=st.integers(0, 10**6), language=languages, rulebook=rulebooks, manner=manners)
def test_nobody_in_stands_before_all_that_is_missing(
    seed: int, language: str, rulebook: Rulebook, manner: Manner
) -> None:
    chance = random.Random(seed)
    numbers: dict[str, Amount | str] = {
        name: Amount(1.234, "m") for name in ("found", "planned", "gap", "limit")
    }
    numbers |= {"hazard": "crack", "since": "25/11 09:40", "name": "Sam", "words": "x" * 40, "unit": "2"}
    numbers |= {"bar": Amount(20, "bar"), "low": Amount(28, "bar"), "high": Amount(51, "bar")}
    numbers |= {"units": "1-14", "set": "3"}
    missing = [
        Missing(fact=rule.fact, id=f"{name}.{key}", say=filled(rule.say[key], numbers), numbers=numbers)
        for name, rule in TABLES.entry.facts(rulebook)
        for key in chance.sample(sorted(rule.say), 1)
        if chance.random() < 0.7
    ]
    until = datetime(2026, 11, 25, 13, tzinfo=UTC)
    outcome = Entry(trench="T7", entry="no" if missing else "may", missing=tuple(missing), until=until)
    writes = pen(language, rulebook, manner)
    text = replies.entry(writes, outcome, allows=chance.random() < 0.5)
    key = "entry-no" if missing else "entry-may"
    first = writes.say(key, trench="T7", until="13:00").partition(".")[0]
    assert text.startswith(segments.to_gsm(first).partition(",")[0])
    within(text)
    within(replies.fit(replies.before_entry(writes, outcome)))
