"""The vocabulary: `bot/words/<language>.toml`, section `reading`, validated and compiled once.

A language is one file. The sections name meanings; under each meaning stand the words and phrases
that crews use for it, in lower case; accents may be written, and are read whether typed or not.
A phrase may stand under several meanings; of two that fit at one place the longer wins. Words
under `skip` (the, is, now ...) may stand inside a phrase.
"""

import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Literal

from pydantic import Field
from rapidfuzz.distance import OSA

from bot.reading.meanings import NONE as NO_MEANING
from bot.reading.meanings import Meanings
from bot.reading.tokens import bare
from knowledge.reading import Kind, State, What
from knowledge.sourced import DataError, Row, parse

FOLDER = Path(__file__).parent.parent / "words"
Dimension = Literal["depth", "width", "length", "spoil", "plant", "pavement", "surcharge", "other"]
DRAWN = re.compile(r"(.)\1\1+")
_KEYS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
NEIGHBOURS = {
    key: row[max(at - 1, 0) : at] + row[at + 1 : at + 2] for row in _KEYS for at, key in enumerate(row)
}
REF = "ref"  # the meaning of a trench reference in a fact
A_REF = Meanings((REF,))
LINE = "line"  # the meaning that every pipe and cable has beside its own
PURPOSES = ("entry", "why", "kit", "steps", "sketch", "status", "help", "close", "size")


class Label(Row):
    """Names of a dimension: those that mostly stand before their figure, those after, short ones."""

    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    letter: tuple[str, ...] = ()


class Numbers(Row):
    """Spoken numbers."""

    small: dict[str, int]
    tens: dict[str, int]
    hundred: tuple[str, ...]
    thousand: tuple[str, ...]
    point: tuple[str, ...]
    zero: tuple[str, ...] = ()
    half: tuple[str, ...]
    quarter: tuple[str, ...]
    one: tuple[str, ...]
    joined: tuple[str, ...]
    ordinal: dict[str, int]


class Units(Row):
    """Unit words as crews write them. `other` are units of what is no length: weights, times."""

    m: tuple[str, ...]
    mm: tuple[str, ...]
    cm: tuple[str, ...]
    ft: tuple[str, ...]
    inch: tuple[str, ...]
    bar: tuple[str, ...]
    psi: tuple[str, ...]
    MPa: tuple[str, ...]
    kPa: tuple[str, ...]  # noqa: N815 - the sign of the unit
    other: tuple[str, ...]


class Ground(Row):
    """Words for soil. `mixed` are adjectives of a second constituent (sandy); `taken` local words."""

    kinds: dict[Kind, tuple[str, ...]]
    states: dict[State, tuple[str, ...]]
    taken: dict[Kind, tuple[str, ...]] = Field(default_factory=dict)
    mixed: dict[Kind, tuple[str, ...]] = Field(default_factory=dict)
    type: tuple[str, ...]
    label: tuple[str, ...]


class Fact(Row):
    """What is meant where `state` is said of `thing` (or either alone, if only one is given).

    `means` and `denied` are meanings such as "done ladder", "hazard crack", "water dry".
    """

    thing: tuple[str, ...] = ()
    state: tuple[str, ...] = ()
    after: bool = False  # the state must follow its thing closely
    means: tuple[str, ...] = ()
    denied: tuple[str, ...] = ()


class Vocabulary(Row):
    """The section `reading` of a language file."""

    name: str
    reviewed: str  # who read it over as a native speaker; "" where nobody has yet
    letters: str = ""  # letters that only this language uses
    numbers: Numbers
    units: Units
    labels: dict[Dimension, Label]
    ground: Ground
    services: dict[What, tuple[str, ...]]
    purposes: dict[str, tuple[str, ...]]
    say: dict[str, tuple[str, ...]]
    facts: tuple[Fact, ...] = ()  # none: those of English, which name meanings and no words
    adjectives_follow: bool = False  # as in "arcilla firme"
    abbreviated: tuple[str, ...] = ()  # words that a full stop right after them only shortens: "gł."
    small: tuple[str, ...]  # words of no content
    skip: tuple[str, ...]  # words that may stand inside a phrase
    plain: tuple[str, ...] = ()  # ordinary words that look like a typing slip of a word above


NEEDED = (  # meanings that the code asks for by name
    "again", "all", "allow", "along", "and", "ask", "at", "bedding", "below", "between", "but", "code",
    "correct", "count", "crossing", "deny", "down", "dug", "edge_t", "elsewhere", "end_of_range", "except",
    "exist", "fallen_to", "feet", "gauge", "in", "last_one", "lengthwise", "level", "link", "lost_by",
    "may", "more", "negation", "none", "none_after", "now", "number", "object", "of", "open", "or",
    "ordinal_ending", "over", "paved", "people", "plan", "range", "reference", "rename", "road", "service",
    "set", "street", "strike", "suppose", "target", "thickness", "times", "top", "trace", "trench",
    "two_soils", "unit", "unit_t", "upon", "vague", "was", "water_t", "yes",
)  # fmt: skip


@dataclass(slots=True)
class Entry:
    """The phrases that start with one word: by itself, and by the second word with what follows it."""

    alone: Meanings | None = None
    seconds: dict[str, list[tuple[tuple[str, ...], Meanings]]] = field(default_factory=dict)

    def add(self, rest: tuple[str, ...], meanings: Meanings) -> None:
        """Enters a phrase by what follows its first word."""
        if rest:
            self.seconds.setdefault(rest[0], []).append((rest[1:], meanings))
        else:
            self.alone = meanings


@dataclass(frozen=True)
class Language:
    """One language, compiled: look-ups from words to meanings."""

    code: str
    vocabulary: Vocabulary
    phrases: dict[str, Entry]
    units: dict[str, str]
    words: frozenset[str]
    small: frozenset[str]
    skipped: frozenset[str]
    slips: dict[str, tuple[str, ...]] = field(repr=False)
    plain: frozenset[str]
    abbreviated: frozenset[str]

    @cached_property
    def of_state(self) -> dict[str, tuple[Fact, ...]]:
        """The facts that a state, or a thing by itself, may make, in the order of the vocabulary."""
        by: dict[str, list[Fact]] = {}
        for fact in self.vocabulary.facts:
            for name in fact.state or fact.thing:
                by.setdefault(name, []).append(fact)
        return {name: tuple(facts) for name, facts in by.items()}

    @cached_property
    def denials(self) -> frozenset[str]:
        """The single words that deny."""
        return frozenset(word for word in self.vocabulary.say["deny"] if " " not in word)

    @cached_property
    def letters(self) -> frozenset[str]:
        """The letters that stand for a dimension."""
        return frozenset(one for label in self.vocabulary.labels.values() for one in label.letter)

    @cached_property
    def _places(self) -> dict[int, int]:
        return {id(fact): place for place, fact in enumerate(self.vocabulary.facts)}

    def rank(self, fact: Fact) -> int:
        """The place of a fact in the vocabulary."""
        return self._places[id(fact)]

    @cached_property
    def numerals(self) -> frozenset[str]:
        """The words a spoken number may start with."""
        n = self.vocabulary.numbers
        return frozenset((*n.small, *n.tens, *n.point, *n.half, *n.one, *n.quarter))

    @cached_property
    def things(self) -> frozenset[str]:
        """Every concept that a state can be said of."""
        return frozenset(name for fact in self.vocabulary.facts for name in fact.thing)

    @cached_property
    def states(self) -> frozenset[str]:
        """Every concept that is said of a thing."""
        return frozenset(name for fact in self.vocabulary.facts for name in fact.state)

    def nearest(self, word: str) -> str | None:
        """The one word of the vocabulary that `word` is a typing slip of; None where in doubt."""
        if len(word) < 4 or word in self.plain:
            return None
        for kept in (r"\1\1", r"\1"):  # "deeep", "wideee"
            if (short := DRAWN.sub(kept, word)) != word and short in self.words:
                return short
        found = {near for key in _deletions(word) for near in self.slips.get(key, ())}
        allowed = 2.4 if len(word) >= 8 else 1.2
        scored = [(distance, near) for near in found if (distance := _distance(word, near)) <= allowed]
        if not scored:
            return None
        least = min(scored)[0]
        best = sorted(near for distance, near in scored if distance == least)
        meanings = {self._alone(near) for near in best}
        return best[0] if len(meanings) == 1 else None

    def meanings(self, word: str) -> Meanings:
        """The meanings of a word by itself."""
        entry = self.phrases.get(word)
        return NO_MEANING if entry is None or entry.alone is None else entry.alone

    def _alone(self, word: str) -> frozenset[str]:
        unit = frozenset((self.units.get(word, word),))
        return self.meanings(word) or unit


@dataclass(frozen=True)
class Words:
    """All languages, by code. English is always there and is taken where words do not tell."""

    languages: dict[str, Language]

    def languages_of(self, said: Iterable[str], spoken: str = "en") -> tuple[Language, ...]:
        """The language most of whose words are said; several where words do not tell them apart.

        Where `spoken`, the language of the conversation so far, is one of those it is taken; else English.
        """
        words = {word for word in said if len(word) > 1}
        known = {code: len(words & language.words) for code, language in self.languages.items()}
        best = [code for code, count in known.items() if count == max(known.values())]
        for code in (spoken, "en"):
            if code in best:
                return (self.languages[code],)
        return tuple(self.languages[code] for code in best)


def load(folder: Path | None = None) -> Words:
    """Every language file of a folder, compiled. Raises DataError with file, key and reason."""
    place = FOLDER if folder is None else folder
    files = {file.stem: file for file in sorted(place.glob("*.toml"))}
    if "en" not in files:
        raise DataError("en.toml: (file): English must be there: it is taken where words do not tell")
    english = _compiled(files.pop("en"))
    others = {code: _compiled(file, english.vocabulary.facts) for code, file in files.items()}
    return Words({"en": english, **others})


def _compiled(file: Path, facts: tuple[Fact, ...] = ()) -> Language:
    vocabulary = parse(file, Vocabulary, _section(file))
    if not vocabulary.facts:
        named = {name for fact in facts for name in (*fact.thing, *fact.state)} - {LINE, REF}
        unsaid = dict.fromkeys((*NEEDED, *named), ())  # a meaning that English alone can say is no error
        vocabulary = vocabulary.model_copy(update={"facts": facts, "say": unsaid | vocabulary.say})
    missing = [name for name in NEEDED if name not in vocabulary.say]
    if missing:
        raise DataError(f"{file.name}: reading.say.{missing[0]}: needed, and not there")
    for fact in vocabulary.facts:
        for name in (*fact.thing, *fact.state):
            if name not in (LINE, REF) and name not in vocabulary.say:
                raise DataError(f"{file.name}: reading.facts: {name!r} is not under reading.say")
        if not (fact.thing or fact.state):
            raise DataError(f"{file.name}: reading.facts: one of thing and state is needed")
    for name in vocabulary.purposes:
        if name not in PURPOSES:
            raise DataError(f"{file.name}: reading.purposes.{name}: no such purpose")
    tags: dict[tuple[str, ...], list[str]] = {}
    for tag, phrase in _tagged(vocabulary):
        key = tuple(phrase.split())
        if not key or phrase != phrase.lower():
            raise DataError(f"{file.name}: {tag}: {phrase!r} must be words in lower case")
        tags.setdefault(key, []).append(tag)
    phrases: dict[str, Entry] = {}
    for key, names in tags.items():
        phrases.setdefault(key[0], Entry()).add(key[1:], Meanings(tuple(dict.fromkeys(names))))
    numbers = vocabulary.numbers
    counted = (
        *numbers.small, *numbers.tens, *numbers.hundred, *numbers.thousand, *numbers.point, *numbers.zero,
        *numbers.half, *numbers.quarter, *numbers.one, *numbers.joined, *numbers.ordinal,
    )  # fmt: skip
    units = {word: unit for unit in Units.model_fields for word in getattr(vocabulary.units, unit)}
    aims = {word for key, names in tags.items() if not all(_aside(name) for name in names) for word in key}
    words = {word for key in tags for word in key} | set(counted) | set(units) | set(vocabulary.small)
    return Language(
        code=file.stem,
        vocabulary=vocabulary,
        phrases=phrases,
        units=units,
        words=frozenset(words),
        small=frozenset(vocabulary.small),
        skipped=frozenset(vocabulary.skip),
        slips=_slips(
            word for word in (aims | set(units)) - set(counted) if len(word) >= 4 and word.isalpha()
        ),
        plain=frozenset(vocabulary.plain),
        abbreviated=frozenset(vocabulary.abbreviated),
    )


def _section(file: Path) -> dict[str, object]:
    try:
        whole = tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DataError(f"{file.name}: (file): not valid TOML: {error}") from error
    section = whole.get("reading")
    if not isinstance(section, dict):
        raise DataError(f"{file.name}: reading: the section is missing")
    return {key: _bare(value) for key, value in section.items()}


def _bare(value: object) -> object:
    """Words under a key without their accents, wherever they stand; a plain text (name) as it is."""
    if isinstance(value, dict):
        return {bare(key): _bare(one) for key, one in value.items()}
    if isinstance(value, list):
        return [bare(one) if isinstance(one, str) else _bare(one) for one in value]
    return value


def _tagged(vocabulary: Vocabulary) -> Iterator[tuple[str, str]]:
    """Every (meaning, phrase) of a vocabulary."""
    for dimension, label in vocabulary.labels.items():
        for place in ("before", "after", "letter"):
            for phrase in getattr(label, place):
                yield f"label.{dimension}.{place}", phrase
    ground = vocabulary.ground
    for group, table in (("kind", ground.kinds), ("taken", ground.taken), ("mixed", ground.mixed)):
        for kind, phrases in table.items():
            for phrase in phrases:
                yield f"{group}.{kind}", phrase
    for state, phrases in ground.states.items():
        for phrase in phrases:
            yield f"state.{state}", phrase
    yield from (("soil.type", phrase) for phrase in ground.type)
    yield from (("soil.label", phrase) for phrase in ground.label)
    for what, phrases in vocabulary.services.items():
        for phrase in phrases:
            yield f"service.{what}", phrase
            yield LINE, phrase
    for purpose, phrases in vocabulary.purposes.items():
        yield from ((f"purpose.{purpose}", phrase) for phrase in phrases)
    for word, number in vocabulary.numbers.ordinal.items():
        yield f"ordinal.{number}", word
    for name, phrases in vocabulary.say.items():
        yield from ((name, phrase) for phrase in phrases)


def _distance(word: str, near: str) -> float:
    """Slips between two words: two letters swapped or one doubled count half, another first letter double."""
    if sorted(word) == sorted(near) or _undoubled(word) == _undoubled(near):
        return 0.5 * OSA.distance(word, near)
    distance = float(OSA.distance(word, near))
    if len(word) == len(near):  # a wrong letter is a lesser slip on a neighbouring key
        distance *= (
            1.0 if all(a == b or b in NEIGHBOURS.get(a, "") for a, b in zip(word, near, strict=True)) else 1.2
        )
    return distance * 2 if word[0] != near[0] and len(near) < 8 else distance


def _undoubled(word: str) -> str:
    return "".join(char for at, char in enumerate(word) if at == 0 or char != word[at - 1])


def _deletions(word: str) -> set[str]:
    """The word, and it less each one letter: two words one slip apart share one of these."""
    return {word} | {word[:at] + word[at + 1 :] for at in range(min(len(word), 24))}


def _aside(tag: str) -> bool:
    """Whether a meaning is too slight for a typing slip to be taken for it."""
    return tag in ("idle", "chat", "count", "reference", "street", "plan", "elsewhere") or tag.startswith(
        "label.other"
    )


def _slips(words: Iterable[str]) -> dict[str, tuple[str, ...]]:
    slips: dict[str, list[str]] = {}
    for word in sorted(words):
        for key in _deletions(word):
            slips.setdefault(key, []).append(word)
    return {key: tuple(near) for key, near in slips.items()}
