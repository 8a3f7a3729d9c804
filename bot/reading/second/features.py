"""What the second reader sees of a text: words and pieces of words, hashed into a fixed number of buckets."""

import re
from zlib import crc32

from bot.language.tokens import bare, normalised

BUCKETS = 1 << 14
SHORTEST, LONGEST = 2, 4  # characters of a piece of a word
LONGEST_WORD = (
    32  # more letters than any word of five languages; what is longer is cut, so that work stays bounded
)

NUMBER, REFERENCE = "0", "t0"
"""What stands for any figure and for any trench: which one it is says nothing of danger or purpose."""

_TOKEN = re.compile(
    r"(?P<gas>\b(?:o2|h2s|co2|ch4)\b)"
    r"|(?P<reference>(?<![^\W_])[a-z]{1,2}-?\d{1,4}[a-z]?(?![^\W_]|[.,]\d))"
    r"|(?P<number>\d+(?:[.,:/]\d+)*)"
    r"|(?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)"
    r"|(?P<mark>[?!%])"
)
UNSPOKEN = frozenset((REFERENCE, "?"))
"""What says nothing without a word or a figure beside it."""

_MASKS = {"number": NUMBER, "reference": REFERENCE}


def words(text: str) -> list[str]:
    """The words of a text in order: lower case, bare of accents and apostrophes, figures and trenches masked.

    Linear in its length; never raises.
    """
    return [
        _MASKS.get(match.lastgroup or "") or match.group().replace("'", "")[:LONGEST_WORD]
        for match in _TOKEN.finditer(bare(normalised(text).lower()))
    ]


def of_word(word: str) -> list[int]:
    """The buckets of a word: itself, and each piece of it; a blank marks where it begins and ends."""
    framed = f" {word} ".encode()
    pieces = [
        framed[start : start + size]
        for size in range(SHORTEST, LONGEST + 1)
        for start in range(len(framed) - size + 1)
    ]
    return [bucket(b"w" + framed), *map(bucket, pieces)]


def of_pair(one: str, other: str) -> int:
    """The bucket of two words that follow each other; an empty one stands for the end of the text."""
    return bucket(f"p{one} {other}".encode())


def bucket(feature: bytes) -> int:
    """Where a feature falls: the same on every machine, unlike Python's own hash."""
    return crc32(feature) % BUCKETS


def buckets(text: str) -> list[int]:
    """All features of a text, as often as they come."""
    said = words(text)
    pairs = zip(["", *said], [*said, ""], strict=True)
    return [each for word in said for each in of_word(word)] + [of_pair(*pair) for pair in pairs if said]
