"""What the second reader hears in a text: how likely danger is spoken of, and what the text is for."""

from collections.abc import Iterator, Mapping
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
        self._columns = weights.columns
        self._purposes = tuple(column.name for column in weights.columns[1:])
        self._row = weights.row
        self._nothing: Sums = (0,) * len(weights.columns)
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
        return SecondHearing(_probability(danger), MappingProxyType(self._shares(odds[1:])))

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

    def _sum(self, rows: list[Sums]) -> Sums:
        return tuple(map(sum, zip(*rows, strict=True))) or self._nothing

    def _shares(self, odds: list[float]) -> dict[str, float]:
        """Odds of purposes that exclude each other as probabilities that add up to one."""
        most = max(odds)
        shares = [exp(each - most) for each in odds]
        total = sum(shares)
        return {name: each / total for name, each in zip(self._purposes, shares, strict=True)}


def load_reader(path: Path = SHIPPED) -> SecondReader:
    """The reader of a file of weights. Raises DataError where that cannot be used."""
    return SecondReader(load(path))


def _probability(odds: float) -> float:
    return 1 / (1 + exp(-odds)) if odds > -700 else 0.0
