"""The vocabulary: `bot/language/words/<language>.toml`, section `reading`, validated and compiled once.

A language is one file. The sections name meanings; under each meaning stand the words and phrases
that crews use for it, in lower case; accents may be written, and are read whether typed or not.
A phrase may stand under several meanings; of two that fit at one place the longer wins. Words
under `skip` (the, is, now ...) may stand inside a phrase. How a phrase is listed: `phrases.py`.
"""

import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, partial
from pathlib import Path
from typing import NamedTuple, get_args

from bot.language.meanings import NONE as NO_MEANING
from bot.language.meanings import Meanings, StatementTable
from bot.language.patterns import Pattern, PatternError, Slots, first_words, one_of_phrases
from bot.language.phrases import (
    Listed,
    Phrases,
    single_words,
    written_out,
)
from bot.language.said import Said
from bot.language.schema import (
    ASIDE,
    LINE,
    NEEDED,
    OPTIONAL,
    OPTIONAL_TEXTS,
    PURPOSES,
    REF,
    SUBJECTS,
    ShortFor,
    Statement,
    StillToDo,
    Units,
    Vocabulary,
)
from bot.language.slips import DRAWN, deletions, shortens, skeleton, skeletons_of, slip, slips_of
from bot.language.tokens import bare
from knowledge.names import DONE, HAZARDS, SOIL_KINDS, SOIL_STATES
from knowledge.reading import LENGTHS, BesideWhat, How
from knowledge.sourced import DataError, document, parse
from knowledge.tables.entry_rules import EntryFigures
from knowledge.tables.load import Tables
from knowledge.tables.load import load as load_tables
from knowledge.units import Degree, Metre

FOLDER = Path(__file__).parent / "words"
AS_LISTED = ("moves", "say", "companions")  # whose phrases are not written out
COUNTED = ("units set", "units out")  # read from counts, not from facts
A_REF = Meanings((REF,))
A_REF.thing = True


class Accepted(NamedTuple):
    """How far a figure beside a fact may go and still be no more than that fact."""

    ladder_above_m: Metre  # the least
    ends_slope_deg: Degree  # the most

    @classmethod
    def of(cls, figures: EntryFigures) -> "Accepted":
        """As the tables have them."""
        return cls(figures.ladder_above.si, figures.ends_slope.si)


@dataclass(frozen=True)
class Language:
    """One language, compiled: look-ups from words to meanings."""

    code: str
    vocabulary: Vocabulary
    phrases: Phrases
    units: dict[str, str]
    words: frozenset[str]
    small: frozenset[str]
    fillers: frozenset[str]
    manners: frozenset[str]
    places: frozenset[str]
    before_places: frozenset[str]
    short_for: dict[str, tuple[ShortFor, ...]]
    still_to_do: StillToDo | None
    nothing_of: frozenset[str]
    every_gauge: frozenset[str]
    addressed: frozenset[str]
    losses: frozenset[str]
    participles: tuple[str, ...]
    done_so: tuple[str, ...]
    within: frozenset[str]
    verb_first: bool
    beyond: frozenset[str]
    edges: frozenset[str]
    first_person: frozenset[str]
    sources: frozenset[str]
    unfinished: tuple[str, ...]
    closing: tuple[str, ...]  # the longest first, each with a blank before it
    companions: dict[str, frozenset[str]] = field(repr=False)
    skipped: frozenset[str]
    shortened: frozenset[str] = field(repr=False)  # the words that may be typed without their vowels
    mistyped: frozenset[str] = field(repr=False)  # the words that a typing slip may be of
    plain: frozenset[str]
    never: frozenset[str] = field(repr=False)  # other words of it, which no list of the harmless may hold
    abbreviated: frozenset[str]
    beside: dict[str, list[tuple[tuple[str, ...], str]]] = field(repr=False)
    things: frozenset[str]
    moves: tuple[Pattern, ...] = field(repr=False)
    accepted: Accepted

    @cached_property
    def slips(self) -> dict[str, tuple[str, ...]]:
        """The words by what a slip may leave of them: large, and made when a slip is first looked up."""
        return slips_of(self.mistyped)

    @cached_property
    def skeletons(self) -> dict[str, tuple[str, ...]]:
        """The words by their consonants."""
        return skeletons_of(self.shortened)

    @cached_property
    def denials(self) -> frozenset[str]:
        """The single words that deny."""
        return frozenset(word for phrase in self.vocabulary.say["deny"] for word in single_words(phrase))

    @cached_property
    def beside_words(self) -> frozenset[str]:
        """The words that begin the name of a thing beside a trench, of a pit or of ground without a slab."""
        where = {"near", "away", "from", "edge", "plain"}
        return frozenset(word for word, said in self.beside.items() if {group for _, group in said} - where)

    @cached_property
    def beside_questions(self) -> re.Pattern[str]:
        """What may open a question or end one and asks nothing by itself: slots `lead`, `until`, `mate`."""
        slots = self.vocabulary.moves.slots
        said = [bare(one) for slot in ("lead", "until", "mate") for one in slots.get(slot, ())]
        return re.compile(one_of_phrases(said) if said else "(?!)")

    @cached_property
    def letters(self) -> frozenset[str]:
        """The letters that stand for a dimension."""
        return frozenset(one for label in self.vocabulary.labels.values() for one in label.letter)

    @cached_property
    def numerals(self) -> frozenset[str]:
        """The words a spoken number may start with."""
        n = self.vocabulary.numbers
        return frozenset((*n.small, *n.tens, *n.point, *n.half, *n.one, *n.quarter))

    def nearest(self, word: str) -> str | None:
        """The one word of the vocabulary that `word` is a typing slip of; None where in doubt."""
        if word in self.plain:
            return None
        if len(word) < 4:
            return self._shortened(word)
        for kept in (r"\1\1", r"\1"):  # "deeep", "wideee"
            if (short := DRAWN.sub(kept, word)) != word and short in self.words:
                return short
        found = {near for key in deletions(word) for near in self.slips.get(key, ())}
        if unfinished := tuple(end for end in self.unfinished if word.endswith(end)):
            found = {near for near in found if near.endswith(unfinished)}
        allowed = 2.4 if len(word) >= 8 else 1.2
        scored = [(distance, near) for near in found if (distance := slip(word, near)) <= allowed]
        if not scored:
            return self._shortened(word)
        least = min(scored)[0]
        best = sorted(near for distance, near in scored if distance == least)
        meanings = {self._alone(near) for near in best}
        return best[0] if len(meanings) == 1 else None

    def _shortened(self, word: str) -> str | None:
        """The one word whose vowels were left out, in part or all; "readin" for "reading"."""
        if word.endswith("in") and f"{word}g" in self.words:
            return f"{word}g"
        least = 5 if len(word) < 4 else 4  # "cly" is too near to too much
        found = [near for near in self.skeletons.get(skeleton(word), ()) if shortens(word, near)]
        found = [near for near in found if len(near) >= least]
        meanings = {self._alone(near) for near in found}
        return found[0] if len(meanings) == 1 else None

    def meanings(self, word: str) -> Meanings:
        """The meanings of a word by itself."""
        entry = self.phrases.get(word)
        return NO_MEANING if entry is None or entry.alone is None else entry.alone

    def said(self, name: str) -> list[str]:
        """All the phrases under a meaning, written out."""
        return [one for phrase in self.vocabulary.say.get(name, ()) for one in written_out(phrase)]

    def _alone(self, word: str) -> frozenset[str]:
        unit = frozenset((self.units.get(word, word),))
        return self.meanings(word) or unit


@dataclass(frozen=True)
class Lexicon:
    """All languages, by code. English is always there and is taken where words do not tell."""

    languages: dict[str, Language]

    @cached_property
    def move_keys(self) -> dict[str, list[tuple[str, int]]]:
        """The patterns that a word is a key of, each by its language and its place in `Language.moves`."""
        found: dict[str, list[tuple[str, int]]] = {}
        for code, language in self.languages.items():
            for at, pattern in enumerate(language.moves):
                for word in pattern.keys:
                    found.setdefault(word, []).append((code, at))
        return found

    @cached_property
    def joining(self) -> frozenset[str]:
        """The words that join the names of several trenches."""
        return frozenset(
            one for language in self.languages.values() for one in language.vocabulary.moves.each
        )

    @cached_property
    def before_time(self) -> frozenset[str]:
        """The words that a time of day stands after."""
        return frozenset(one for language in self.languages.values() for one in language.vocabulary.moves.at)

    def accepting(self, tables: Tables) -> "Lexicon":
        """The same words under the figures of other tables."""
        accepted = Accepted.of(tables.entry.figure)
        if accepted == self.languages["en"].accepted:
            return self
        return Lexicon({code: replace(one, accepted=accepted) for code, one in self.languages.items()})

    def knows(self, word: str) -> bool:
        """Whether a word means something in any language, so that no name of a site may stand for it."""
        return any(
            word in one.words or word in one.phrases or word in one.units or word in one.fillers
            for one in self.languages.values()
        )

    def languages_of(self, said: Iterable[str], spoken: str = "en", text: str = "") -> tuple[Language, ...]:
        """The language most of whose words are said; several where words do not tell them apart.

        Of those the one alone whose own letters stand in the text; then `spoken`, the language of the
        conversation so far; then English.
        """
        words = {word for word in said if len(word) > 1}
        if spoken == "en" and words <= self.languages["en"].words and text.isascii():
            return (self.languages["en"],)
        known = {
            code: len(words & one.words) + len(words & one.never) for code, one in self.languages.items()
        }
        if known[spoken] and known[spoken] + 1 == max(known.values()):  # "soil firm caly": a slip may tell
            own_slips = words.difference(*(one.words | one.never for one in self.languages.values()))
            known[spoken] += sum(self.languages[spoken].nearest(word) is not None for word in own_slips)
        most = max(known.values())
        best = [code for code, count in known.items() if count == most]
        if most and not text.isascii():
            letters = set(text.lower())
            own = [code for code in best if letters & set(self.languages[code].vocabulary.letters)]
            best = own if len(own) == 1 else best
        for code in (spoken, "en"):
            if code in best:
                return (self.languages[code],)
        return tuple(self.languages[code] for code in best)


def load(folder: Path | None = None, tables: Tables | None = None) -> Lexicon:
    """Every language file of a folder, compiled, under the figures of the tables; where none are given, of
    those that came with the program. Raises DataError with file, key and reason."""
    accepted = Accepted.of((tables or load_tables()).entry.figure)
    place = FOLDER if folder is None else folder
    files = {file.stem: file for file in sorted(place.glob("*.toml"))}
    if "en" not in files:
        raise DataError("en.toml: (file): English must be there: it is taken where words do not tell")
    english = _compiled(files.pop("en"), accepted)
    others = {code: _compiled(file, accepted, english.vocabulary.facts) for code, file in files.items()}
    return Lexicon({"en": english, **others})


def _compiled(file: Path, accepted: Accepted, facts: tuple[Statement, ...] = ()) -> Language:
    vocabulary = parse(file, Vocabulary, _section(file), under="reading")
    if not vocabulary.facts:
        named = {name for fact in facts for name in (*fact.thing, *fact.state)} - {LINE, REF}
        unsaid = dict.fromkeys((*NEEDED, *named), ())  # a meaning that English alone can say is no error
        vocabulary = vocabulary.model_copy(update={"facts": facts, "say": unsaid | vocabulary.say})
    missing = [name for name in NEEDED if name not in vocabulary.say]
    if missing:
        raise DataError(f"{file.name}: reading.say.{missing[0]}: needed, and not there")
    known = {
        *NEEDED,
        *OPTIONAL,
        *ASIDE,
        *(n for fact in vocabulary.facts for n in (*fact.thing, *fact.state)),
    }
    for name in vocabulary.say:
        if name not in known:
            raise DataError(f"{file.name}: reading.say.{name}: nothing asks for it and no fact names it")
    for where, given, wanted in (
        ("ground.kinds", vocabulary.ground.kinds.keys(), SOIL_KINDS),
        ("ground.states", vocabulary.ground.states.keys(), SOIL_STATES),
        ("labels", vocabulary.labels.keys(), tuple(LENGTHS)),
    ):
        if unnamed := [name for name in wanted if name not in given]:
            raise DataError(f"{file.name}: reading.{where}.{unnamed[0]}: needed, and not there")
    for place, said in (("fillers", vocabulary.fillers), ("manners", vocabulary.manners),
                      ("places", vocabulary.places), ("addressed", vocabulary.addressed)):  # fmt: skip
        for word in said:
            if " " in word or word != word.lower():
                raise DataError(f"{file.name}: {place}: {word!r} must be one word in lower case")
    never = frozenset(vocabulary.never)
    beside_said = {
        subject: tuple(word for phrase in said for word in single_words(phrase))
        for subject, said in vocabulary.companions.items()
    }
    harmless: dict[str, tuple[str, ...]] = {
        "fillers": vocabulary.fillers,
        "manners": vocabulary.manners,
        **{str(subject): said for subject, said in beside_said.items()},
    }
    for place, said in harmless.items():
        if place != "entry" and (odd := never.intersection(said)):  # a question may hold any of them
            raise DataError(f"{file.name}: {place}: {min(odd)!r} is never said without changing a report")
    for fact in vocabulary.facts:
        for name in (*fact.thing, *fact.state):
            if name not in (LINE, REF) and name not in vocabulary.say:
                raise DataError(f"{file.name}: reading.facts: {name!r} is not under reading.say")
        if not (fact.thing or fact.state):
            raise DataError(f"{file.name}: reading.facts: one of thing and state is needed")
    _check_sayable(file.name, vocabulary)
    for name in vocabulary.purposes:
        if name not in PURPOSES:
            raise DataError(f"{file.name}: reading.purposes.{name}: no such purpose")
    for name in PURPOSES:
        if name not in vocabulary.purposes:
            raise DataError(f"{file.name}: reading.purposes.{name}: needed, and not there")
    for how in get_args(How):
        if how not in vocabulary.how:
            raise DataError(f"{file.name}: reading.how.{how}: needed, and not there")
    listed: list[Listed] = []
    for tag, phrase in _tagged(vocabulary):
        if phrase != phrase.lower():
            raise DataError(f"{file.name}: {tag}: {phrase!r} must be words in lower case")
        listed.append(Listed.of(tag, phrase))
    index = StatementTable(vocabulary.facts)
    try:
        phrases = Phrases(listed, cache(partial(Meanings, facts=index)))
    except ValueError as error:
        raise DataError(f"{file.name}: {error}: a phrase there may be no word at all") from error
    numbers = vocabulary.numbers
    counted = (
        *numbers.small, *numbers.tens, *numbers.hundred, *numbers.thousand, *numbers.point, *numbers.zero,
        *numbers.half, *numbers.quarter, *numbers.one, *numbers.joined, *numbers.ordinal,
    )  # fmt: skip
    units = {word: unit for unit in Units.model_fields for word in getattr(vocabulary.units, unit)}
    aims = {word for one in listed if not _aside(one.name) for word in one.all_words()}
    words = (
        {word for one in listed for word in one.all_words()}
        | set(counted)
        | set(units)
        | {*vocabulary.small, *vocabulary.fillers, *vocabulary.manners, *vocabulary.places}
        | {*vocabulary.before_places, *vocabulary.addressed}
        | {word for said in beside_said.values() for word in said}
    )
    beside = _beside(file.name, vocabulary)
    things = {word for said in beside.values() for phrase, _ in said for word in phrase} - words
    return Language(
        code=file.stem,
        vocabulary=vocabulary,
        phrases=phrases,
        units=units,
        words=frozenset(words | things),
        small=frozenset(vocabulary.small),
        fillers=frozenset(vocabulary.fillers),
        manners=frozenset(vocabulary.manners),
        places=frozenset(vocabulary.places),
        before_places=frozenset(vocabulary.before_places),
        short_for=_short_for(vocabulary),
        still_to_do=vocabulary.still_to_do,
        nothing_of=frozenset(vocabulary.nothing_of),
        every_gauge=frozenset(bare(text) for text in vocabulary.every_gauge),
        addressed=frozenset(vocabulary.addressed),
        losses=frozenset(vocabulary.losses),
        participles=vocabulary.participles,
        done_so=vocabulary.done_so,
        within=frozenset(vocabulary.within),
        verb_first=vocabulary.verb_first,
        beyond=frozenset(vocabulary.beyond),
        edges=frozenset(word for said in vocabulary.beside.edge for word in said.split()),
        first_person=frozenset(vocabulary.first_person),
        sources=frozenset(vocabulary.sources),
        unfinished=vocabulary.unfinished,
        closing=tuple(sorted((f" {' '.join(said.split())}" for said in vocabulary.closing), key=len))[::-1],
        companions={
            name: frozenset(said) for subject, said in beside_said.items() for name in SUBJECTS[subject]
        },
        skipped=frozenset(vocabulary.skip),
        shortened=frozenset(filter(_slips, aims - set(counted))),
        mistyped=frozenset(filter(_slips, (aims | set(units)) - set(counted))),
        plain=frozenset(vocabulary.plain),
        never=never - words - things,
        abbreviated=frozenset(vocabulary.abbreviated),
        beside=beside,
        things=frozenset(things),
        moves=_moves(file.name, vocabulary),
        accepted=accepted,
    )


def _short_for(vocabulary: Vocabulary) -> dict[str, tuple[ShortFor, ...]]:
    """What each word may stand for, by the word."""
    found: dict[str, tuple[ShortFor, ...]] = {}
    for one in vocabulary.short_for:
        for word in one.said:
            found[word] = (*found.get(word, ()), one)
    return found


def _moves(file: str, vocabulary: Vocabulary) -> tuple[Pattern, ...]:
    """The texts of the job as it moves, compiled; earlier ones count before later ones."""
    say, units, moves = vocabulary.say, vocabulary.units, vocabulary.moves

    def one_of(words: Iterable[str]) -> str:
        return "|".join(re.escape(word) for word in dict.fromkeys(words) if word.isalpha())

    ref, fillers = r"[a-z]{1,2}\d{1,4}", one_of(vocabulary.fillers)
    trench, numbered = (
        one_of(word for phrase in say[name] for word in single_words(phrase)) for name in ("trench", "number")
    )
    ref = rf"{ref}|(?:{trench}) (?:(?:{numbered}) )?\d{{1,2}}"
    number = r"\d+(?:[.,]\d+)?"
    clock = r"\d{1,2}[:.h]\d{2}|(?:[01]\d|2[0-3])[0-5]\d|\d{1,2} ?(?:am|pm|h)|\d{1,2}"
    till = one_of(said.split()[0] for said in moves.till)
    sorry = rf"(?:(?:{'|'.join(re.escape(bare(said)) for said in moves.sorry)}) )*"
    numbers = vocabulary.numbers
    name = rf"(?!(?:{till}) )[^\d\s]\S*"
    said_in = {slot: tuple(bare(one) for one in said) for slot, said in moves.slots.items()}
    slots = Slots(
        {
            "ref": ref,
            "to": ref,
            "n": rf"\d{{1,3}}|{one_of((*numbers.small, *numbers.one))}",
            "unit": rf"u?\d{{1,2}}|{one_of(numbers.ordinal)}",
            "m": rf"{number} ?(?:{one_of((*units.m, *units.ft))})|\d(?:[.,]\d+)?",
            "time": clock,
            "day": one_of(word for day in moves.days for word in day),
            "name": rf"{name}(?: {name}){{0,2}}",
            "words": r"\S.*",
            "prep": rf"(?:{one_of(vocabulary.before_places)}) ",
            **{slot: one_of_phrases(each) for slot, each in said_in.items()},
        },
        rf"(?:(?:{fillers}) )*",
        {slot: first_words(each) for slot, each in said_in.items()},
    )
    try:
        return tuple(
            slots.compiled(name, bare(said), sorry if name == "not_at" else "")
            for name, texts in sorted(moves.texts.items(), key=lambda one: one[0] in OPTIONAL_TEXTS)
            for said in texts
        )
    except PatternError as error:
        raise DataError(f"{file}: reading.moves.texts: {error}") from error


def _beside(file: str, vocabulary: Vocabulary) -> dict[str, list[tuple[tuple[str, ...], str]]]:
    """The phrases of what stands beside the trench with their group, by first word, the longest first."""
    said = vocabulary.beside
    for what in get_args(BesideWhat):
        if not said.kinds.get(what):
            raise DataError(f"{file}: reading.beside.kinds.{what}: needed, and not there")
    groups = {f"kind.{what}": phrases for what, phrases in said.kinds.items()}
    groups |= {"near": said.near, "away": said.away, "from": said.from_, "edge": said.edge}
    groups |= {"plain": said.plain, "pit": said.pit, "no_slab": said.no_slab}
    groups |= {"junction": said.junction, "junction_at": said.junction_at, "overhang": said.overhang}
    found: dict[str, list[tuple[tuple[str, ...], str]]] = {}
    for group, phrases in groups.items():
        for phrase in phrases:
            words = tuple(phrase.split())
            if not words or phrase != phrase.lower():
                raise DataError(f"{file}: reading.beside: {phrase!r} must be words in lower case")
            found.setdefault(words[0], []).append((words, group))
    return {word: sorted(said, key=lambda one: -len(one[0])) for word, said in found.items()}


def _check_sayable(file: str, vocabulary: Vocabulary) -> None:
    """Every hazard and everything done is meant by some fact that the language has words for."""
    wanted = [Said("hazard", name) for name in HAZARDS]
    wanted += [Said("done", name) for name in DONE if name not in COUNTED]
    for meaning in wanted:
        facts = [fact for fact in vocabulary.facts if meaning in (*fact.means, *fact.denied)]
        if not facts:
            raise DataError(f"{file}: reading.facts: no fact means {' '.join(meaning)!r}")
        if not any(_sayable(fact, vocabulary) for fact in facts):
            name = next(name for name in (*facts[0].thing, *facts[0].state) if not vocabulary.say.get(name))
            raise DataError(
                f"{file}: reading.say.{name}: no words for it, and {' '.join(meaning)!r} needs them"
            )


def _sayable(fact: Statement, vocabulary: Vocabulary) -> bool:
    return all(
        any(name in (LINE, REF) or vocabulary.say[name] for name in names)
        for names in (fact.thing, fact.state)
        if names
    )


def _section(file: Path) -> dict[str, object]:
    try:
        whole = document(file.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DataError(f"{file.name}: (file): not valid TOML: {error}") from error
    section = whole.get("reading")
    if not isinstance(section, dict):
        raise DataError(f"{file.name}: reading: the section is missing")
    whole = {key: _bare(value) for key, value in section.items()}
    return {key: value if key in AS_LISTED else _each_way(value) for key, value in whole.items()}


def _bare(value: object) -> object:
    """Words under a key without their accents, wherever they stand; a plain text (name) as it is."""
    if isinstance(value, dict):
        return {bare(key): _bare(one) for key, one in value.items()}
    if isinstance(value, list):
        return [bare(one) if isinstance(one, str) else _bare(one) for one in value]
    return value


def _each_way(value: object) -> object:
    """Lists with each phrase written out: "go|get in" is two of them."""
    if isinstance(value, dict):
        return {key: _each_way(one) for key, one in value.items()}
    if isinstance(value, list):
        each = [written_out(one) if isinstance(one, str) else [_each_way(one)] for one in value]
        return [one for several in each for one in several]
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
    yield from (("aside", phrase) for phrase in vocabulary.asides)
    for subject, said in vocabulary.companions.items():
        yield from ((f"aside.{subject}", phrase) for phrase in said if not single_words(phrase))
        either = (phrase for phrase in said if " " in phrase and single_words(phrase))
        longer = (one for phrase in either for one in written_out(phrase) if " " in one)
        yield from ((f"aside.{subject}", phrase) for phrase in longer)
    yield from (("soil.type", phrase) for phrase in ground.type)
    yield from (("soil.label", phrase) for phrase in ground.label)
    for what, phrases in vocabulary.services.items():
        for phrase in phrases:
            yield f"service.{what}", phrase
            yield LINE, phrase
    for purpose, phrases in vocabulary.purposes.items():
        yield from ((f"purpose.{purpose}", phrase) for phrase in phrases)
    for how, phrases in vocabulary.how.items():
        for phrase in phrases:
            yield f"how.{how}", phrase
            yield "purpose.steps", phrase
    for word, number in vocabulary.numbers.ordinal.items():
        yield f"ordinal.{number}", word
    for name, phrases in vocabulary.say.items():
        yield from ((name, phrase) for phrase in phrases)


def _slips(word: str) -> bool:
    """Whether a word is long enough for a typing slip to be told from another word."""
    return len(word) >= 4 and word.isalpha()


def _aside(tag: str) -> bool:
    """Whether a meaning is too slight for a typing slip to be taken for it."""
    slight = ("idle", "chat", "count", "reference", "street", "plan", "elsewhere")
    return tag in slight or tag.startswith(("label.other", "aside"))
