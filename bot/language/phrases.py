"""Phrases as the words files list them, and what goes on from the words said so far.

In a phrase `a|b_c` is one of "a" and "b c", and `[a|b]` what may be missing. Such a phrase stands for
thousands that nobody will ever say: only those are laid out that somebody begins to.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import chain, product
from sys import intern
from typing import NamedTuple

from bot.language.meanings import Meanings

Words = tuple[str, ...]
Parts = tuple[tuple[Words, ...], ...]
"""A phrase part by part, each with the ways to say it; () is a part that may be missing."""


@lru_cache(4096)  # the same ways come again and again
def _words(text: str) -> Words:
    return tuple(intern(word) for word in text.split())


def parts_of(phrase: str) -> Parts:
    """A phrase in its parts."""
    return tuple(
        tuple(_words(way.replace("_", " ")) for way in ways)
        for ways in (
            ("", *part[1:-1].split("|")) if part.startswith("[") and part.endswith("]") else part.split("|")
            for part in phrase.split(" ")
        )
    )


def plain(phrase: str) -> bool:
    """Whether there is one way to say it."""
    return "|" not in phrase and "[" not in phrase


def written_out(phrase: str) -> list[str]:
    """The phrases that one stands for, in the order of its words."""
    if plain(phrase):
        return [phrase]
    return [" ".join(word for way in ways for word in way) for ways in product(*parts_of(phrase))]


def single_words(phrase: str) -> list[str]:
    """Those of the phrases that one stands for which are one word."""
    if plain(phrase):
        return [] if " " in phrase else [phrase]
    parts = parts_of(phrase)
    needed = [ways for ways in parts if () not in ways]
    if len(needed) > 1:
        return []
    return [way[0] for ways in needed or parts for way in ways if len(way) == 1]


class Listed(NamedTuple):
    """A phrase and the meaning that it is listed under: the words of a plain one, the parts of another."""

    name: str
    words: Words
    parts: Parts

    @classmethod
    def of(cls, name: str, phrase: str) -> "Listed":
        """As it stands in a words file."""
        return cls(name, _words(phrase), ()) if plain(phrase) else cls(name, (), parts_of(phrase))

    def all_words(self) -> Iterator[str]:
        """Every word that it may be said with."""
        return chain(self.words, (word for ways in self.parts for way in ways for word in way))


MeaningsOf = Callable[[Words], Meanings]
"""The meanings that some names stand for."""

Place = tuple[Listed, int, Words]
"""A place within a phrase: so many of its parts are said, and of the next one these words are left to say."""


def _next(place: Place) -> Iterator[tuple[str | None, Place]]:
    """What may be said next, and the place after it; None where the phrase may end here."""
    listed, at, left = place
    if left:
        yield left[0], (listed, at, left[1:])
    elif at == len(listed.parts):
        yield None, place
    else:
        for way in listed.parts[at]:
            yield from _next((listed, at + 1, way))


@dataclass
class PhraseBranch:
    """The phrases that begin with the same words: what those words mean by themselves, what may follow."""

    places: tuple[Place, ...]  # in the order in which the phrases are listed
    meant: MeaningsOf = field(repr=False)

    @cached_property
    def _ways(self) -> dict[str | None, list[Place]]:
        found: dict[str | None, list[Place]] = {}
        for place in self.places:
            for word, after in _next(place):
                found.setdefault(word, []).append(after)
        return found

    @cached_property
    def _branches(self) -> dict[str, "PhraseBranch"]:
        return {}

    @cached_property
    def alone(self) -> Meanings | None:
        """What the words mean where nothing follows; None where they are only the beginning of something."""
        ended = self._ways.get(None)
        return self.meant(tuple(dict.fromkeys(listed.name for listed, _, _ in ended))) if ended else None

    @property
    def goes_on(self) -> bool:
        """Whether any phrase is longer."""
        return len(self._ways) > (None in self._ways)

    def then(self, word: str) -> "PhraseBranch | None":
        """The phrases that go on with this word."""
        branch = self._branches.get(word)
        if branch is None and (places := self._ways.get(word)) is not None:
            branch = self._branches[word] = PhraseBranch(tuple(places), self.meant)
        return branch


class Phrases:
    """All phrases of a language, by the word that they begin with."""

    def __init__(self, phrases: Iterable[Listed], meant: MeaningsOf) -> None:
        """Raises ValueError, with its meaning, where one may be no word at all."""
        self._meant, self._branches = meant, dict[str, PhraseBranch]()
        self._by_first: dict[str, list[Listed]] = {}
        for listed in phrases:
            firsts = listed.words[:1] or dict.fromkeys(word for word, _ in _next((listed, 0, ())))
            if not firsts or None in firsts:
                raise ValueError(listed.name)
            for word in firsts:
                self._by_first.setdefault(word or "", []).append(listed)

    def __contains__(self, word: str) -> bool:
        return word in self._by_first

    def get(self, word: str) -> PhraseBranch | None:
        """What begins with a word."""
        branch = self._branches.get(word)
        if branch is None and word in self._by_first:
            begun = ((listed, 0, listed.words) for listed in self._by_first[word])
            places = tuple(place for each in begun for said, place in _next(each) if said == word)
            branch = self._branches[word] = PhraseBranch(places, self._meant)
        return branch

    def names(self, word: str) -> frozenset[str]:
        """The meanings of all the phrases that begin with a word."""
        return frozenset(listed.name for listed in self._by_first.get(word, ()))
