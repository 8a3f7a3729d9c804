"""Typing slips: how far a word is from another, and which are near it, without a look at all."""

import re
from collections.abc import Iterable

from rapidfuzz.distance import OSA

DRAWN = re.compile(r"(.)\1\1+")
_KEYS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
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
