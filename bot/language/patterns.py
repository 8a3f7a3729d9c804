"""Whole texts as patterns in data: "{n} units out of {ref} into {to}".

A pattern is words, `a|b` for one of several words, `a_b` for two words that stand together, `[a|b]` for what
may be missing, slots in braces.
Fillers may stand between its parts. Nothing else may: a text that a pattern fits is accounted for whole.
A pattern without `{ref}` may have the reference before or after it.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from bot.language.tokens import bare, normalised

LONGEST_SAID = 60  # words of a text that a pattern may fit
_FILLED = re.compile(r"\{([a-z]+)\}")
_GLUED = re.compile(r"(?<=[a-z])-(?=\d)")
_PARTS = str.maketrans({**dict.fromkeys(',;!()"\n\t|&', " "), "'": None})


@dataclass(frozen=True)
class WordedText:
    """A text as patterns see it: its words bare and in lower case, and each as it was written."""

    words: str
    raw: tuple[str, ...]
    question: bool

    def of(self, match: re.Match[str], slot: str) -> str:
        """What stands in a slot, as it was written; "" where nothing does."""
        if slot not in match.re.groupindex or match[slot] is None:
            return ""
        first = self.words.count(" ", 0, match.start(slot))
        return " ".join(self.raw[first : first + len(match[slot].split())])

    def without(self, first: int, last: int) -> "WordedText":
        """The text with the words from one place to another left out."""
        words = self.words.split()
        kept = (*words[:first], *words[last:])
        return WordedText(
            "".join(f"{word} " for word in kept), self.raw[:first] + self.raw[last:], self.question
        )


def one_of_phrases(phrases: Iterable[str]) -> str:
    """One of several phrases as an expression, each word with the blank after it: "a|b_c [d|e]"."""
    return f"(?:{'|'.join(map(_phrase, phrases))})"


def _phrase(phrase: str) -> str:
    out = []
    for part in phrase.split():
        optional = part.startswith("[") and part.endswith("]")
        words = (part[1:-1] if optional else part).replace("_", " ")
        out.append(f"(?:(?:{words}) )?" if optional else f"(?:{words}) ")
    return "".join(out)


def first_words(phrases: Iterable[str]) -> frozenset[str]:
    """The words that one of several phrases may begin with."""
    found: set[str] = set()
    for phrase in phrases:
        for part in phrase.split():
            found |= {word.split("_")[0] for word in part.strip("[]").split("|")}
            if not part.startswith("["):
                break
    return frozenset(found)


def said(text: str) -> WordedText | None:
    """A text made ready for patterns; None for one that is too long to be one."""
    plain = normalised(text)
    question = plain.rstrip().endswith("?")
    if "?" in plain.rstrip()[:-1]:
        return None
    words = [said for word in plain.translate(_PARTS).split() if (said := word.strip(".:?-=/+*"))]
    if not 0 < len(words) <= LONGEST_SAID:
        return None
    joined = _GLUED.sub("", bare(" ".join(words).lower()))
    return WordedText(f"{joined} ", tuple(words), question)


@dataclass(frozen=True)
class Pattern:
    """One whole text. In every text that it fits stands one of each set of `needs`."""

    name: str
    expression: str
    needs: tuple[frozenset[str], ...]

    @property
    def keys(self) -> frozenset[str]:
        """The first of them, by which it is looked up."""
        return self.needs[0]

    def may_fit(self, spoken: frozenset[str]) -> bool:
        """Whether a text of these words has all that it needs."""
        return not any(need.isdisjoint(spoken) for need in self.needs)

    @cached_property
    def fits(self) -> re.Pattern[str]:
        """The expression, made ready when a text first has its words: of most none ever has."""
        return re.compile(self.expression)


class PatternError(ValueError):
    """A pattern that cannot be read."""


@dataclass(frozen=True)
class Slots:
    """What may stand in each slot, as a regular expression without its blank, and the fillers."""

    said: dict[str, str]
    fillers: str
    firsts: dict[str, frozenset[str]] = field(default_factory=dict)  # the first words of what has no figure

    def compiled(self, name: str, pattern: str, lead: str = "") -> Pattern:
        """A pattern of one name, before which `lead` may stand.

        Raises PatternError for one that says nothing, has an unknown slot, or has one twice.
        """
        parts = pattern.split()
        needs: list[frozenset[str]] = []
        taken: set[str] = set()
        out = [self.fillers, lead]
        own_ref = "{ref}" in parts or "{to}" in parts
        if not own_ref:
            out.append(rf"(?:{self.said['prep']})?(?:(?P<before>{self.said['ref']}) )?{self.fillers}")
        for part in parts:
            optional = part.startswith("[") and part.endswith("]")
            inner = part[1:-1] if optional else part
            if slot := _FILLED.fullmatch(inner):
                if slot[1] not in self.said:
                    raise PatternError(f"{pattern!r}: no slot {slot[1]!r}")
                if slot[1] in taken:
                    raise PatternError(f"{pattern!r}: the slot {slot[1]!r} twice")
                taken.add(slot[1])
                firsts = self.firsts.get(slot[1], frozenset())
                found = rf"(?P<{slot[1]}>{self.said[slot[1]]})" + ("" if slot[1] in self.firsts else " ")
            else:
                words = inner.split("|")
                if not all(re.fullmatch(r"[\w@]+", word) for word in words):
                    raise PatternError(f"{pattern!r}: {inner!r} is neither words nor a slot")
                firsts = frozenset(word.split("_")[0] for word in words)
                found = f"(?:{'|'.join(words).replace('_', ' ')}) "
            needs += [firsts] if firsts and not optional else []
            out.append(f"(?:{found})?" if optional else found)
            if not (slot and slot[1] in ("words", "name")):
                out.append(self.fillers)
        if not own_ref:
            out.append(rf"(?:{self.said['prep']})?(?:(?P<after>{self.said['ref']}) )?{self.fillers}")
        if not needs:
            raise PatternError(f"{pattern!r}: no word of its own")
        return Pattern(name, "".join(out), tuple(needs))
