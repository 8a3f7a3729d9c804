"""Reading against general extractors of quantities: how many figures are found right, and how quickly.

The messages are those of `tests/cases/reading/` with the depths, widths and gauge readings expected there.
They are also what our reading is tested by, so its share here is no measure of messages it never saw;
`trenchword measure` takes those.

General extractors find quantities and do not know what each is of, so they are helped. A figure counts as
found right where the expected value is that of the extracted quantity nearest to a word of its field (deep,
wide and the like, on either side, ties in their favour), or where no such word is in the message, of any
quantity. A number without a unit may be metres, and from 100 up millimetres. A pressure is right where it is
among the pressures extracted. What they find in messages that tell no such figure is not held against them.
"""

import re
import time
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from statistics import median
from typing import Any

import pint
from pint.errors import PintError
from reading_cases import LEAST, Case, cases
from table import Row

from bot.language import lexicon
from bot.reading.both import Readers
from bot.reading.read import read

with warnings.catch_warnings():
    # Without scikit-learn it takes the likeliest unit from its own list, and warns that it does.
    warnings.simplefilter("ignore")
    from quantulum3 import parser as quantulum

ROUNDS = 3
MILLIMETRE, TENTH_BAR = 0.00051, 0.05
FIELDS = {
    "depth": re.compile(r"deep|depth|dp\b|\bd\b|\bd(?=\d)", re.IGNORECASE),
    "width": re.compile(r"wide|width|\bw\b|\bw(?=\d)", re.IGNORECASE),
}
METRES = {
    "m": 1.0,
    "metre": 1.0,
    "mm": 0.001,
    "cm": 0.01,
    "ft": 0.3048,
    "foot": 0.3048,
    "in": 0.0254,
    "inch": 0.0254,
}
METRES |= {"millimetre": 0.001, "centimetre": 0.01, "": 1.0}
BARS = {
    "bar": 1.0,
    "psi": 0.0689476,
    "pound-force per square inch": 0.0689476,
    "mpa": 10.0,
    "megapascal": 10.0,
}
PLAIN = re.compile(r"(\d+(?:[.,]\d+)?)\s*(mm|cm|m|ft|in|bar|psi|mpa)?\b", re.IGNORECASE)


@dataclass(frozen=True)
class Found:
    """A quantity in a text: its place, its number, its unit's name or ""."""

    at: int
    number: float
    unit: str


Extract = Callable[[str], Sequence[Found]]


def by_quantulum(text: str) -> list[Found]:
    found = quantulum.parse(text)
    return [Found(each.span[0], each.value, each.unit.name.replace("dimensionless", "")) for each in found]


def by_expression(text: str) -> list[Found]:
    """One plain regular expression, as a first try at it would be."""
    return [
        Found(match.start(), float(match[1].replace(",", ".")), (match[2] or "").lower())
        for match in PLAIN.finditer(text)
    ]


class ByPint:
    """pint's own parser on each word, and on each two words together."""

    def __init__(self) -> None:
        self._registry: Any = pint.UnitRegistry()

    def __call__(self, text: str) -> list[Found]:
        tokens = list(re.finditer(r"\S+", text))
        found: list[Found] = []
        for token, after in zip(tokens, [*tokens[1:], None], strict=True):
            if not any(sign.isdigit() for sign in token[0]):
                continue
            one = self._quantity(token[0])
            if after and (two := self._quantity(f"{token[0]} {after[0]}")) and two[1]:
                one = two
            if one:
                found.append(Found(token.start(), *one))
        return found

    def _quantity(self, words: str) -> tuple[float, str] | None:
        try:
            quantity = self._registry.Quantity(words)
            return float(quantity.magnitude), "" if quantity.unitless else f"{quantity.units}"
        # Text is not what it is made for: it raises whatever Python's own tokenizer and arithmetic raise.
        except (
            PintError,
            ArithmeticError,
            AttributeError,
            AssertionError,
            TypeError,
            ValueError,
            SyntaxError,
        ):
            return None


@dataclass
class Score:
    """Figures found right of those told, and the time of each message."""

    right: dict[str, int] = field(default_factory=lambda: {"depth": 0, "width": 0, "pressure": 0})
    times: list[float] = field(default_factory=list)

    @property
    def all(self) -> int:
        return sum(self.right.values())


def told(case: Case) -> dict[str, list[float]]:
    """The figures that a message tells."""
    expect = case.expect
    lengths = {"depth": expect.depth_m, "width": expect.width_m}
    found = {name: [value] for name, value in lengths.items() if value is not None}
    return found | ({"pressure": [gauge.bar for gauge in expect.gauges]} if expect.gauges else {})


def ours(texts: Sequence[str]) -> tuple[list[dict[str, list[float]]], list[float]]:
    """What our reading takes the texts to tell."""
    vocabulary = lexicon.load()
    found, times = [], []
    for text in texts:
        begun = time.perf_counter()
        reading = read(text, vocabulary).reading
        times.append(time.perf_counter() - begun)
        found.append(told(Case(text=text, expect=reading)))
    return found, times


def right(name: str, wanted: Sequence[float], text: str, found: Sequence[Found]) -> bool:
    """Whether a general extractor found a figure, by the rule above."""
    if name == "pressure":
        bars = [each.number * BARS[unit] for each in found if (unit := each.unit.lower()) in BARS]
        return all(any(abs(bar - one) <= TENTH_BAR for one in bars) for bar in wanted)
    lengths = [(each.at, metres) for each in found for metres in _metres(each)]
    places = [match.start() for match in FIELDS[name].finditer(text)]
    if places and lengths:
        off = {at: min(abs(at - place) for place in places) for at, _ in lengths}
        lengths = [(at, metres) for at, metres in lengths if off[at] == min(off.values())]
    return any(abs(metres - wanted[0]) <= MILLIMETRE for _, metres in lengths)


def _metres(found: Found) -> list[float]:
    factor = METRES.get(found.unit.lower())
    if factor is None:
        return []
    thousandth = [found.number / 1000] if not found.unit and found.number >= 100 else []
    return [found.number * factor, *thousandth]


def measure() -> list[Row]:
    """Every message by all of them in turns, several times; the quickest of each message's times counts."""
    chosen = [case for name in LEAST for case in cases(name) if told(case) and not case.asked]
    texts = [case.text for case in chosen]
    others: dict[str, Extract] = {
        "quantulum3 (without classifier)": by_quantulum,
        "pint": ByPint(),
        "one regular expression": by_expression,
    }
    scores = {name: Score() for name in ("trenchword", *others)}
    for round_ in range(ROUNDS):
        readings, times = ours(texts)
        _keep(scores["trenchword"], times)
        for name, extract in others.items():
            _keep(scores[name], _timed(extract, texts))
        if round_ == 0:
            for case, reading in zip(chosen, readings, strict=True):
                for figure, wanted in told(case).items():
                    near = TENTH_BAR if figure == "pressure" else MILLIMETRE
                    scores["trenchword"].right[figure] += len(read_ := reading.get(figure, [])) == len(
                        wanted
                    ) and all(abs(a - b) <= near for a, b in zip(sorted(wanted), sorted(read_), strict=True))
                    for name, extract in others.items():
                        scores[name].right[figure] += right(
                            figure, wanted, case.text, _safely(extract, case.text)
                        )
    return [*_rows(scores, chosen), _both_readers([case.text for name in LEAST for case in cases(name)])]


def _both_readers(texts: Sequence[str]) -> Row:
    """Every text of the tables by both readers, as a crew's text is read; the quickest of its times."""
    readers = Readers(lexicon.load())
    times: list[list[float]] = [[] for _ in texts]
    for _ in range(ROUNDS):
        for text, kept in zip(texts, times, strict=True):
            begun = time.perf_counter()
            readers.read(text)
            kept.append(time.perf_counter() - begun)
    took = median(min(each) for each in times) * 1e6
    return Row(
        f"both readers, {len(texts)} messages", f"{took:.0f} µs a message, median", aim="at most 200 µs"
    )


def _rows(scores: dict[str, Score], chosen: Sequence[Case]) -> list[Row]:
    most = {name: sum(name in told(case) for case in chosen) for name in ("depth", "width", "pressure")}
    mine = scores["trenchword"]
    rows = []
    for name, score in scores.items():
        shares = ", ".join(f"{figure} {score.right[figure] / n:.0%}" for figure, n in most.items())
        took = median(score.times) * 1e6
        rows.append(
            Row(
                f"{name}: found right of {sum(most.values())} figures in {len(chosen)} messages",
                f"{score.all / sum(most.values()):.0%} ({shares})",
                f"{took:.0f} µs a message, median",
                None if score is mine else median(score.times) / median(mine.times),
                aim="at most 150 µs" if score is mine else "at least 20" if "quantulum" in name else "",
            )
        )
    return rows


def _timed(extract: Extract, texts: Sequence[str]) -> list[float]:
    times = []
    for text in texts:
        begun = time.perf_counter()
        _safely(extract, text)
        times.append(time.perf_counter() - begun)
    return times


def _safely(extract: Extract, text: str) -> Sequence[Found]:
    try:
        return extract(text)
    except Exception:  # whatever another's extractor raises on a text, it found nothing there
        return []


def _keep(score: Score, times: list[float]) -> None:
    score.times = [min(pair) for pair in zip(score.times, times, strict=True)] if score.times else times
