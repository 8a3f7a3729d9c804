"""What the second reader hears in a text: how likely danger is spoken of, what the text is for, and of which
fact of entry it speaks."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from math import exp, sqrt
from pathlib import Path
from types import MappingProxyType

from bot.reading.second import features
from bot.reading.second.weights import Weights, load
from knowledge.sourced import DataError

SHIPPED = Path(__file__).parent / "second.weights"

WINDOW = 24
"""Words. In a longer text danger is also listened for in every stretch of so many: else a few words of danger
would drown in many that are none."""

KEPT = (
    8192  # words, and as many pairs, whose sums are kept: crews repeat themselves, and memory stays bounded
)

Sums = tuple[int, ...]


@dataclass(frozen=True)
class SecondHearing:
    """Probabilities, calibrated on texts by writers that the model had not seen (see thresholds.toml)."""

    danger: float
    purpose: Mapping[str, float]


class SecondReader:
    """A loaded model. Pure: a text is always heard alike. No text is kept, only words in a bounded cache."""

    def __init__(self, weights: Weights) -> None:
        """Raises DataError where the weights are for another number of buckets than there are features."""
        if weights.buckets != features.BUCKETS:
            raise DataError(
                f"weights: buckets: {weights.buckets}, and texts are hashed into {features.BUCKETS}"
            )
        self.stamp = weights.stamp
        self._columns = tuple(column for column in weights.columns if column.of != "fact")
        self._facts = weights.columns[len(self._columns) :]
        self._purposes = tuple(column.name for column in self._columns[1:])
        self._weights = weights
        self._nothing: Sums = (0,) * len(self._columns)
        self._word = lru_cache(KEPT)(self._of_word)
        self._pair = lru_cache(KEPT)(self._of_pair)

    def hear(self, text: str) -> SecondHearing:
        """Danger and purpose of a text. Linear in its length; never raises."""
        said = features.words(text)
        words = [self._word(word) for word in said]
        pairs = [self._pair(*pair) for pair in zip(["", *said], [*said, ""], strict=True)] if said else []
        sums = self._sum([*(each for each, _ in words), *pairs])
        size = sqrt(max(1, sum(number for _, number in words) + len(pairs)))
        odds = [
            column.bias + column.scale * each / size for column, each in zip(self._columns, sums, strict=True)
        ]
        danger = max([odds[0], *self._danger_of_stretches(words, pairs)])
        if features.UNSPOKEN.issuperset(said):
            danger = self._columns[0].bias  # "T7": as likely as before anything is said
        return SecondHearing(_probability(danger), MappingProxyType(_shares(self._purposes, odds[1:])))

    def about(self, text: str) -> dict[str, float]:
        """Of a text that reports something: how likely it speaks of each fact of entry."""
        found = features.buckets(text)
        first, size = len(self._columns), sqrt(max(1, len(found)))
        rows = [self._weights.row(each)[first:] for each in found]
        odds = [
            column.bias + column.scale * sum(row[place] for row in rows) / size
            for place, column in enumerate(self._facts)
        ]
        return _shares([column.name for column in self._facts], odds)

    def _danger_of_stretches(self, words: list[tuple[Sums, int]], pairs: list[Sums]) -> Iterator[float]:
        """Log odds of danger in the stretches of a long text, each half over the one before, to its end.

        A stretch has its words, and of each the pair that it makes with the word before.
        """
        if len(words) <= WINDOW:
            return
        danger = self._columns[0]
        sums = [0, *accumulate(word[0] + pair[0] for (word, _), pair in zip(words, pairs, strict=False))]
        sizes = [0, *accumulate(number + 1 for _, number in words)]
        for start in range(0, len(words) - WINDOW // 2, WINDOW // 2):
            end = min(start + WINDOW, len(words))
            yield danger.bias + danger.scale * (sums[end] - sums[start]) / sqrt(sizes[end] - sizes[start])

    def _of_word(self, word: str) -> tuple[Sums, int]:
        """The sums of a word's features, and how many there are."""
        found = features.of_word(word)
        return self._sum([self._row(each) for each in found]), len(found)

    def _of_pair(self, one: str, other: str) -> Sums:
        return self._row(features.of_pair(one, other))

    def _row(self, bucket: int) -> Sums:
        return self._weights.row(bucket)[: len(self._columns)]

    def _sum(self, rows: list[Sums]) -> Sums:
        return tuple(map(sum, zip(*rows, strict=True))) or self._nothing


def load_reader(path: Path = SHIPPED) -> SecondReader:
    """The reader of a file of weights. Raises DataError where that cannot be used."""
    return SecondReader(load(path))


def _shares(names: Sequence[str], odds: Sequence[float]) -> dict[str, float]:
    """Odds of what excludes each other as probabilities that add up to one."""
    most = max(odds)
    shares = [exp(each - most) for each in odds]
    total = sum(shares)
    return {name: each / total for name, each in zip(names, shares, strict=True)}


def _probability(odds: float) -> float:
    return 1 / (1 + exp(-odds)) if odds > -700 else 0.0
