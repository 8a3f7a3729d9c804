"""What the service says, by language: the reply part of `words/<language>.toml`."""

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import get_args

from pydantic import ConfigDict, Field

from knowledge.names import DONE, ENTRY_FACTS, GROUNDS, HAZARDS, SOIL_KINDS
from knowledge.outcome import Caution, Missing, Refusal
from knowledge.reading import ASKED, CHOICES, LENGTHS, YES_NO, What
from knowledge.sourced import DataError, DataRow, Rulebook, parse
from knowledge.tables.load import Tables
from knowledge.units import Amount, Lengths, show

WORDS = Path(__file__).parent / "words"
LAYERS = Path(__file__).parent / "layers"
_DECIMAL = re.compile(r"(?<=\d)\.(?=\d)")
_FOOT_OR_INCH = re.compile(r"(?<=\d )(ft|in)\b")
_ONE_FOOT = re.compile(r"(?<![\d.,])1 ft\b")


# Besides what is done: a sizing, a depth dug to, a dry trench, how far it is filled.
TAUGHT = ("services", "units", "gap below", "ladder", "spoil", "ends", "water", "air test", "inspection")
EXAMPLES = (*DONE, "size", "dug", "dry", "filled to")


class FigureWords(DataRow):
    """How figures are written: the sign before decimals, the words for feet, for one foot and for inches."""

    decimal: str = "."
    ft: str = "ft"
    one_ft: str = ""
    inch: str = "in"

    def written(self, shown: str) -> str:
        """A figure as this language writes it, from how it is shown: "5 pies 3,5 pulg" from "5 ft 3.5 in"."""
        own = _DECIMAL.sub(self.decimal, shown)
        own = _ONE_FOOT.sub(f"1 {self.one_ft or self.ft}", own)
        return _FOOT_OR_INCH.sub(lambda unit: {"ft": self.ft, "in": self.inch}[unit[0]], own)


class Catalog(DataRow):
    """Sentences and terms of one language. English rule sentences stand beside the rules themselves,
    so `rules` is empty there; every other language translates them by id."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    say: dict[str, str]
    ask: dict[str, str]
    detail: dict[str, str]
    terms: dict[str, str] = Field(default_factory=dict)
    rules: dict[str, str] = Field(default_factory=dict)
    examples: dict[str, str] = Field(default_factory=dict)  # of texts that count, by what is said in them
    taught: dict[str, str] = Field(default_factory=dict)  # how each fact of entry is reported, well or badly
    figures: FigureWords = Field(default_factory=FigureWords)

    def over(self, english: "Catalog", core: Mapping[str, str]) -> "Catalog":
        """This language, with the English sentence where it has none: a gap is no reason not to answer."""
        whole = {name: getattr(english, name) | getattr(self, name) for name in ("say", "ask", "detail")}
        return self.model_copy(update={**whole, "rules": translated(self.rules, core)})

    def term(self, word: str) -> str:
        """A term of the contract ("firm clay", "ladder") as this language says it."""
        return self.terms.get(word, word)

    def sentence(self, what: Caution | Missing | Refusal, lengths: Lengths) -> str:
        """A sentence of the core in this language and in the sender's units."""
        template = self.rules.get(what.rule if isinstance(what, Refusal) else what.id)
        text = self._filled(template, what.numbers, lengths) if template else what.say
        return text[:1].upper() + text[1:]

    def instead(self, refusal: Refusal, lengths: Lengths) -> str:
        """What to do instead of these shores."""
        template = self.rules.get(f"{refusal.rule}.instead")
        return self._filled(template, refusal.numbers, lengths) if template else refusal.instead

    def _filled(self, template: str, blanks: Mapping[str, Amount | str], lengths: Lengths) -> str:
        """The sentence with its blanks filled, words of the contract as this language says them."""
        said = {name: self.term(value) if isinstance(value, str) else value for name, value in blanks.items()}
        return self.fill(template, said, lengths)

    def fill(self, sentence: str, blanks: Mapping[str, Amount | str], lengths: Lengths = "m") -> str:
        """The sentence with its blanks filled: lengths in the unit given, figures as written here."""
        shown = {
            name: self.figures.written(show(value, lengths)) if isinstance(value, Amount) else value
            for name, value in blanks.items()
        }
        return sentence.format_map(shown)


class RulebookWords(DataRow):
    """What a rulebook's crews call things, over English: single words, and whole sentences of the core."""

    words: dict[str, str]
    rules: dict[str, str] = Field(default_factory=dict)

    def over(self, english: Catalog) -> Catalog:
        """English in these words."""
        known = {word: english.term(word) for word in (*english.terms, *_terms())}
        names = ("say", "ask", "detail", "rules", "examples", "taught")
        sections = {name: getattr(english, name) for name in names}
        said = {
            name: {key: self._said(sentence) for key, sentence in section.items()}
            for name, section in (sections | {"terms": known}).items()
        }
        return english.model_copy(update=said | {"rules": said["rules"] | self.rules})

    def _said(self, sentence: str) -> str:
        """The sentence in these words; its blanks, which are names, stay."""
        words = "|".join(sorted(map(re.escape, self.words), key=len, reverse=True))
        pattern = re.compile(rf"\{{\w+\}}|\b(?:{words})\b", re.IGNORECASE)
        return pattern.sub(lambda found: self._word(found[0]), sentence)

    def _word(self, word: str) -> str:
        own = self.words.get(word.lower(), word)
        if word.isupper():
            return own.upper()
        return own[:1].upper() + own[1:] if word[:1].isupper() else own


def of_the_core(tables: Tables) -> dict[str, str]:
    """Every sentence of the core by its id, in English as it stands beside its rule.

    It is the list of what each other language translates.
    """
    rules = {**tables.rules.refusal, **tables.rules.rule}
    said = {name: row.say for name, row in rules.items()}
    said |= {f"{name}.instead": row.instead for name, row in rules.items() if row.instead}
    said |= {f"{name}.{key}": say for name, row in tables.entry.fact.items() for key, say in row.say.items()}
    said |= {f"hazard.{kind}": row.say for kind, row in tables.hazards.hazard.items()}
    said |= {f"step-{name}": row.say for name, row in tables.steps.step.items()}
    said |= {
        f"how-{how}-{name}": row.say for how, rows in tables.steps.how.items() for name, row in rows.items()
    }
    said |= {f"watch.{kind}": row.say for kind, row in tables.entry.watch.items()}
    said |= {f"entry.{name}": row.say for name, row in tables.entry.caution.items()}
    said["entry.doubted"] = tables.entry.doubted.say
    hazards = tables.hazards
    return said | {
        "hazard.out": hazards.out.say,
        "hazard.ring": hazards.ring.say,
        "hazard.stay-out": hazards.stay_out.say,
    }


def load(tables: Tables, folder: Path = WORDS, *, gaps: bool = False) -> dict[str, Catalog]:
    """Every language by its code, as the files are named, and English as it is said under a rulebook by that
    too ("en-us"). Raises DataError naming file, key and reason.

    `gaps`: English may stand in for what a language lacks, as where the office has only now written a rule.
    """
    found = {file.stem: parse(file, Catalog) for file in sorted(folder.glob("*.toml"))}
    core, english = of_the_core(tables), found["en"]
    if not gaps:
        for code, one in found.items():
            if lacking := next(_lacking(one, english, {} if code == "en" else core), None):
                raise DataError(f"{code}.toml: {lacking}: needed, and not there")
    english = english.model_copy(update={"rules": core})
    layers = {file.stem: parse(file, RulebookWords) for file in sorted(LAYERS.glob("*.toml"))}
    for rulebook, layer in layers.items():
        if odd := min(layer.rules.keys() - core.keys(), default=None):
            raise DataError(f"layers/{rulebook}.toml: rules.{odd}: no sentence of that id")
    return {
        **{code: english if code == "en" else one.over(english, core) for code, one in found.items()},
        **{f"en-{rulebook}": layer.over(english) for rulebook, layer in layers.items()},
    }


def spoken(catalogs: Mapping[str, Catalog], language: str, rulebook: Rulebook) -> Catalog:
    """A language as it is said on a site of that rulebook."""
    return catalogs.get(f"{language}-{rulebook}", catalogs[language])


def _lacking(one: Catalog, english: Catalog, core: Mapping[str, str]) -> Iterator[str]:
    """The keys that a language should have and has not; English, which has the names themselves and the
    sentences beside their rules, is given no `core`."""
    wanted: dict[str, tuple[Iterable[str], Mapping[str, str]]] = {
        "say": (english.say, one.say),
        "ask": ({**english.ask, **ASKED}, one.ask),
        "detail": ({*english.detail, *_details()}, one.detail),
        "terms": (_terms() if core else (), one.terms),
        "rules": (core, translated(one.rules, core)),
        "examples": (EXAMPLES, one.examples),
        "taught": (TAUGHT, one.taught),
    }
    for section, (names, there) in wanted.items():
        yield from (f"{section}.{name}" for name in names if name not in there)


def _terms() -> Iterator[str]:
    """What is said back by the name that the core has for it."""
    yield from (*HAZARDS, *ENTRY_FACTS, *DONE, *get_args(What))
    yield from SOIL_KINDS
    yield from (f"{state} {kind}" for kind, state in GROUNDS if state)
    for name, words in CHOICES.items():
        yield from (said_back(name, word) for word in words if words != YES_NO)


def _details() -> Iterator[str]:
    """How each length and each yes or no is said back."""
    yield from LENGTHS.values()
    yield from (
        f"{name}-{word}"
        for name, words in CHOICES.items()
        if name in ASKED and words == YES_NO
        for word in words
    )


def said_back(field: str, word: str) -> str:
    """The term for a field told in a word: "ends open"; what is told of water needs no other word."""
    return word if field == "water" else f"{field} {word}"


def translated(rules: Mapping[str, str], core: Mapping[str, str]) -> dict[str, str]:
    """The sentences of a language by id; one that stands under several ids is translated once for all."""
    known = {core[name]: sentence for name, sentence in rules.items() if name in core}
    return {name: known[english] for name, english in core.items() if english in known} | dict(rules)
