"""Phrases laid out as they are said find what writing every one of them out would find."""

import re
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.language.meanings import Meanings
from bot.language.patterns import Slots
from bot.language.phrases import Listed, PhraseBranch, Phrases, single_words, written_out

WAYS = [
    ("all set", ["all set"]),
    ("go|get in", ["go in", "get in"]),
    ("proceed|crack_on", ["proceed", "crack on"]),
    ("[is] ready for men|us", ["ready for men", "ready for us", "is ready for men", "is ready for us"]),
]


@pytest.mark.parametrize(("phrase", "ways"), WAYS)
def test_a_phrase_is_written_out_in_each_way(phrase: str, ways: list[str]) -> None:
    assert written_out(phrase) == ways


WORD = st.sampled_from("abc")
WAY = st.builds("_".join, st.lists(WORD, min_size=1, max_size=2))
PART = st.builds(
    lambda ways, missing: f"[{'|'.join(ways)}]" if missing else "|".join(ways),
    st.lists(WAY, min_size=1, max_size=2),
    st.booleans(),
)
PHRASE = st.builds(" ".join, st.lists(PART, min_size=1, max_size=3)).filter(
    lambda phrase: "" not in written_out(phrase)
)
LISTED = st.lists(st.tuples(st.sampled_from(("x", "y", "z")), PHRASE), max_size=5)


def ends_at(phrases: Phrases, said: tuple[str, ...]) -> PhraseBranch | None:
    branch = phrases.get(said[0])
    for word in said[1:]:
        branch = branch and branch.then(word)
    return branch


@given(LISTED)
def test_every_phrase_is_found_by_its_words_and_nothing_else_is(listed: list[tuple[str, str]]) -> None:
    meant: dict[str, list[str]] = {}
    for name, phrase in listed:
        for one in written_out(phrase):
            meant.setdefault(one, []).append(name)
    phrases = Phrases((Listed.of(name, phrase) for name, phrase in listed), Meanings)
    for length in range(1, 5):
        for said in product("abc", repeat=length):
            text, branch = " ".join(said), ends_at(phrases, said)
            assert ((branch and branch.alone) or frozenset()) == frozenset(meant.get(text, ()))
            longer = any(one.startswith(f"{text} ") for one in meant)
            assert (branch is not None and branch.goes_on) == longer
            assert (branch is not None) == (longer or text in meant)


@given(PHRASE)
def test_single_words(phrase: str) -> None:
    assert {*single_words(phrase)} == {one for one in written_out(phrase) if " " not in one}


def test_a_phrase_that_may_be_no_word_is_refused() -> None:
    with pytest.raises(ValueError, match="dry"):
        Phrases([Listed.of("dry", "[all] [dry]")], Meanings)


SLOTS = Slots(
    {"n": r"\d", "words": r"\S.*", "prep": "(?:in) ", "ref": r"t\d", "lead": "(?:(?:hi|hello) |)"},
    "(?:(?:the) )*",
    {"lead": frozenset(("hi", "hello"))},
)
TEXT = st.builds(
    lambda words: "".join(f"{word} " for word in words),
    st.lists(st.sampled_from(("a", "b", "c", "the", "in", "t7", "3", "hi")), max_size=6),
)


@given(
    st.sampled_from(("a|b {n}", "[a] c|b_a", "{ref} b [c] a", "a {words}", "[{lead}] c a", "a_b|c [b]")), TEXT
)
def test_no_pattern_fits_a_text_that_lacks_what_it_needs(pattern: str, text: str) -> None:
    made = SLOTS.compiled("moved", pattern)
    if re.fullmatch(made.expression, text):
        assert made.may_fit(frozenset(text.split()))
