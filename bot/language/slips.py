"""Typing slips: how far a word is from another, and which are near it, without a look at all."""

import re
from collections.abc import Iterable

from rapidfuzz.distance import OSA

DRAWN = re.compile(r"(.)\1\1+")
_KEYS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
LEAST_BONES = 3
_VOWELS = re.compile("[aeiou]")
NEIGHBOURS = {
    key: row[max(at - 1, 0) : at] + row[at + 1 : at + 2] for row in _KEYS for at, key in enumerate(row)
}


def slip(word: str, near: str) -> float:
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


def deletions(word: str) -> set[str]:
    """The word, and it less each one letter: two words one slip apart share one of these."""
    return {word} | {word[:at] + word[at + 1 :] for at in range(min(len(word), 24))}


def slips_of(words: Iterable[str]) -> dict[str, tuple[str, ...]]:
    slips: dict[str, list[str]] = {}
    for word in sorted(words):
        for key in deletions(word):
            slips.setdefault(key, []).append(word)
    return {key: tuple(near) for key, near in slips.items()}


def skeleton(word: str) -> str:
    """The consonants of a word, which thumbs in a hurry leave standing: "lddr" of "ladder"."""
    return _VOWELS.sub("", word)


def skeletons_of(words: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """The words by their consonants; those of fewer than three are too like others."""
    found: dict[str, list[str]] = {}
    for word in sorted(words):
        if len(bones := skeleton(word)) >= LEAST_BONES:
            found.setdefault(bones, []).append(word)
    return {bones: tuple(near) for bones, near in found.items()}


def shortens(short: str, word: str) -> bool:
    """Whether `short` is `word` with letters left out, the first one kept."""
    rest = iter(word)
    return short[:1] == word[:1] and all(char in rest for char in short)
