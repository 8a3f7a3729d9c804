"""What the second reader hears in a text: how likely danger is spoken of, and what the text is for."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import exp, sqrt
from pathlib import Path
from types import MappingProxyType

from bot.reading.second import features
from bot.reading.second.weights import Weights, load
from knowledge.sourced import DataError

SHIPPED = Path(__file__).parent / "second.weights"

WINDOW = 24
"""Words. In a longer text danger is also listened for in every stretch of so many: else a few words of danger would
drown in many that are none."""

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
    """A loaded model. Pure: the same text is always heard alike; no text is kept, only words of it in a bounded cache."""

    def __init__(self, weights: Weights) -> None:
        """Raises DataError where the weights are for another number of buckets than features are hashed into."""
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
        self._pair = lru_cache(KEPT)(lambda one, other: self._row(features.of_pair(one, other)))

    def hear(self, text: str) -> SecondHearing:
        """Danger and purpose of a text. Linear in its length; never raises."""
        said = features.words(text)
        whole = self._odds(said)
        danger = max([whole[0], *(self._odds(part)[0] for part in _stretches(said))])
        return SecondHearing(_probability(danger), MappingProxyType(self._shares(whole[1:])))

    def _odds(self, said: list[str]) -> list[float]:
        """Log odds of each column: that of a text without words is its bias."""
        pieces = [self._word(word) for word in said]
        count = sum(number for _, number in pieces)
        pairs = zip(["", *said], [*said, ""], strict=True) if said else ()
        sums = self._sum([*(each for each, _ in pieces), *(self._pair(*pair) for pair in pairs)])
        size = sqrt(max(1, count + len(said) + bool(said)))
        return [
            column.bias + column.scale * each / size for column, each in zip(self._columns, sums, strict=True)
        ]

    def _of_word(self, word: str) -> tuple[Sums, int]:
        """The sums of a word's features, and how many there are."""
        found = features.of_word(word)
        return self._sum(self._row(each) for each in found), len(found)

    def _sum(self, rows: Iterable[Sums]) -> Sums:
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


def _stretches(said: list[str]) -> Iterator[list[str]]:
    """Of a long text, its stretches of WINDOW words, each half over the one before, to the very end."""
    if len(said) > WINDOW:
        for start in range(0, len(said) - WINDOW // 2, WINDOW // 2):
            yield said[start : start + WINDOW]


def _probability(odds: float) -> float:
    return 1 / (1 + exp(-odds)) if odds > -700 else 0.0
