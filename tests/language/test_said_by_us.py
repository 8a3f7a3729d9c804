"""What the service tells crews to text is read, in every language; and US crews read US words.

The words of US crews are common usage, no source.
"""

import re
import tomllib
from pathlib import Path

import pytest
from shipped import shipped

from bot.language.catalog import Catalog
from knowledge.names import DONE
from knowledge.reading import Reading

BASIS = shipped()
CODES = sorted(BASIS.catalogs)
UK_ONLY = r"batter(ed|s)?|centres|close sheeting|plant|ring|services?|muck"
WORDING = tomllib.loads((Path(__file__).parents[1] / "cases" / "wording.toml").read_text(encoding="utf-8"))
BLANK = re.compile(r"\{(\w+)\}")


def heard(text: str, *, supervisor: bool = False) -> Reading:
    return BASIS.readers.read(text, supervisor=supervisor, own="Alex").reading


@pytest.mark.parametrize("what", DONE)
@pytest.mark.parametrize("code", CODES)
def test_an_example_of_a_report_counts_as_it_stands(code: str, what: str) -> None:
    example = BASIS.catalogs[code].examples[what]
    for text in (f"T7 {example}", f"T7 {example}".upper()):
        reading = heard(text, supervisor=True)
        assert reading.whole, reading.left_over
        assert what in reading.done or (what == "spoil back" and reading.spoil_m), text
        assert (what == "inspection") == (reading.verdict == "safe")


@pytest.mark.parametrize("code", CODES)
def test_the_other_examples_are_read(code: str) -> None:
    examples = BASIS.catalogs[code].examples
    size = heard(f"T7 {examples['size']}")
    assert (size.purpose, size.depth_m, size.width_m, size.length_m) == ("size", 1.6, 0.9, 6)
    assert size.soil and (size.soil.kind, size.soil.state, size.water) == ("clay", "firm", "dry")
    dug = heard(f"T7 {examples['dug']}")
    assert (dug.purpose, dug.depth_m, dug.whole) == ("report", 1.6, True)
    dry = heard(f"T7 {examples['dry']}")
    assert (dry.purpose, dry.water, dry.whole) == ("report", "dry", True)
    filled = heard(f"T7 {examples['filled to']}")
    assert ("backfill" in filled.done, filled.depth_m, filled.whole) == (True, 1.4, True)


@pytest.mark.parametrize("code", CODES)
def test_what_lets_people_in_is_read_as_it_is_told(code: str) -> None:
    told = BASIS.catalogs[code].say["entry-may-allows"].rpartition(": ")[2].format(trench="T7").rstrip(".")
    reading = heard(told, supervisor=True)
    assert (reading.purpose, reading.allow, reading.trench, reading.whole) == ("entry", True, "T7", True)


@pytest.mark.parametrize("code", CODES)
def test_the_words_in_capitals_do_what_they_are_told_for(code: str) -> None:
    say = BASIS.catalogs[code].say
    safe = say["maybe-danger"].rpartition(", ")[2].rpartition(" {")[0]
    danger = re.findall(r"[^\W\d_]{4,}", say["open-text"])
    capitals = [word for word in danger if word.isupper()]
    readings = {word: heard(f"T7 {word}") for word in (*capitals, safe.partition(" ")[2] or safe)}
    assert any(each.hazards for each in readings.values()), readings.keys()
    assert any(each.answer == "ignore" for each in readings.values()), readings.keys()


def english() -> list[tuple[str, str, str]]:
    us: Catalog = BASIS.catalogs["en-us"]
    return [
        (section, key, sentence)
        for section in ("say", "ask", "detail", "terms", "rules", "examples")
        for key, sentence in getattr(us, section).items()
    ]


def test_us_crews_read_no_word_that_only_others_use() -> None:
    found = {
        key: sentence
        for _, key, sentence in english()
        if re.search(rf"\b({UK_ONLY})\b", BLANK.sub("", sentence), re.IGNORECASE)
    }
    assert found == {}


def test_us_sentences_have_no_blank_that_english_has_not() -> None:
    uk = BASIS.catalogs["en"]
    for section, key, sentence in english():
        if section != "terms":
            assert set(BLANK.findall(sentence)) <= set(BLANK.findall(getattr(uk, section)[key])), key


def sentences(code: str) -> list[tuple[str, str]]:
    catalog = BASIS.catalogs[code]
    return [
        (f"{section}.{key}", sentence)
        for section in ("say", "ask", "detail", "terms", "rules")
        for key, sentence in getattr(catalog, section).items()
    ]


@pytest.mark.parametrize("code", sorted(WORDING))
def test_no_sentence_says_what_was_misunderstood_when_read_aloud(code: str) -> None:
    found = {
        (key, wrong): sentence
        for key, sentence in sentences(code)
        for wrong in WORDING[code]
        if re.search(wrong, sentence)
    }
    assert found == {}


@pytest.mark.parametrize("code", CODES)
def test_no_sentence_holds_a_sign_that_is_not_spoken(code: str) -> None:
    spoken = set(" .,:;?!¿¡'\"()-+")  # "+" is read as "plus"
    texts = {key: BLANK.sub("", sentence) for key, sentence in sentences(code)}
    odd = {sign for text in texts.values() for sign in text if not (sign.isalnum() or sign in spoken)}
    assert odd == set()


def capitals(sentence: str) -> list[str]:
    """What a sentence tells a crew to text: its words in capitals, with what stands in them."""
    told: list[list[str]] = [[]]
    for word in sentence.split():
        bare = word.strip(".,:;?¿!")
        if bare.isdigit() or (bare == bare.upper() and any(letter.isalpha() for letter in bare)):
            told[-1].append(bare)
            if word[-1] not in ".:;?!":
                continue
        told.append([])
    return [" ".join(words) for words in told if words]


MOVES = {
    "run-filled": lambda told: (told.run, told.done) == (2, ("backfill",)),
    "parked-bare": lambda told: told.guarded,
    "strip-asked": lambda told: told.purpose == "strip",
    "strip-unasked": lambda told: told.purpose == "strip",
    "handed-news": lambda told: told.purpose == "take",
    "close-filled": lambda told: told.done == ("backfill",),
    "merge-how": lambda told: told.purpose == "merge" and told.to == "T7",
    "name-each": lambda told: told.also == ("T6",) and told.verdict == "safe",
}
COUNTED = {
    "were-in": lambda told: told.all_out and told.heads.out == 2,
    "heads-left": lambda told: told.all_out and told.heads.out == 2,
    "heads-out-now": lambda told: told.all_out and told.heads.out == 2,
}
FILLED = {"trench": "T7", "other": "T3", "run": "2", "name": "Sam", "to": "Kim", "until": "7", "heads": "2"}


@pytest.mark.parametrize("code", [code for code in CODES if code != "en-us"])
@pytest.mark.parametrize("key", [*MOVES, *COUNTED])
def test_the_moves_that_crews_are_told_to_text_are_heard(code: str, key: str) -> None:
    texts = capitals(BASIS.catalogs[code].say[key].format(**FILLED))
    counted = "T7 {} 2" if key in COUNTED else "{}"
    readings = [
        BASIS.readers.read(counted.format(text), language=code.partition("-")[0], supervisor=True).reading
        for text in texts
    ]
    means = (MOVES | COUNTED)[key]
    assert any(told.whole and (key not in COUNTED or told.heads) and means(told) for told in readings), texts
