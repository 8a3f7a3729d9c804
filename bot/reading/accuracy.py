"""How well messages are read: exact readings, questions asked when due, silent misreadings, time."""

import json
import time
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median
from typing import Any

from bot.language.lexicon import Lexicon
from bot.reading.read import read

SETS = ("questions", "hazards", "done", "undone")
PRIVATE = ("unread", "surcharge_kpa", "disturbed", "fissured", "dipping", "allow", "code", "again", "same_as")
TOLERANCE = {"bar": 0.05}


@dataclass(frozen=True)
class Measure:
    """The figures of one run over messages with their expected readings.

    `asked` of `to_ask`: messages that call for a question and got each one due. `silent`: a value that
    is wrong, with no question about that field, or a hazard missed in a message taken as understood, as
    (text, field, read, expected). Time is the reader's own, in microseconds.
    """

    messages: int
    exact: int
    to_ask: int
    asked: int
    silent: tuple[tuple[str, str, Any, Any], ...]
    wrong: tuple[tuple[str, dict[str, tuple[Any, Any]]], ...]
    median_us: float
    worst_us: float

    @property
    def share(self) -> float:
        """Exact readings as a share of all; 1 where there were no messages."""
        return self.exact / self.messages if self.messages else 1.0

    def lines(self) -> list[str]:
        """The figures as printed lines, misreadings listed."""
        report = [
            f"messages {self.messages}",
            f"exact {self.exact} ({self.share:.1%})",
            f"asked when due {self.asked} of {self.to_ask}",
            f"silent misreadings {len(self.silent)}",
            f"microseconds a message: median {self.median_us:.0f}, worst {self.worst_us:.0f}",
        ]
        report.extend(
            f"SILENT {field}: read {got!r}, expected {wanted!r}: {text!r}"
            for text, field, got, wanted in self.silent
        )
        report.extend(f"differs {found!r}: {text!r}" for text, found in self.wrong)
        return report


def measure(lines: Iterable[str], words: Lexicon) -> Measure:
    """Reads each JSON line {"text", "expect"} and compares. Raises ValueError naming a bad line."""
    exact = to_ask = asked = 0
    silent: list[tuple[str, str, Any, Any]] = []
    wrong: list[tuple[str, dict[str, tuple[Any, Any]]]] = []
    times: list[float] = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        text, wanted, before = _row(line, number)
        start = time.thread_time()  # work done, and not what else the machine did meanwhile
        heard = read(text, words, before)
        times.append((time.thread_time() - start) * 1e6)
        got = heard.reading.public()
        found = differences(got, wanted)
        exact += not found
        due = set(wanted.get("questions", ()))
        to_ask += bool(due)
        asked += bool(due) and due <= set(got.get("questions", ()))
        if found:
            wrong.append((text, found))
        silent.extend((text, name, *pair) for name, pair in found.items() if _silent(name, pair, got))
    return Measure(
        len(times),
        exact,
        to_ask,
        asked,
        tuple(silent),
        tuple(wrong),
        median(times) if times else 0.0,
        max(times, default=0.0),
    )


def differences(
    got: dict[str, Any], wanted: dict[str, Any], free: Iterable[str] = ()
) -> dict[str, tuple[Any, Any]]:
    """The fields in which a reading differs from the expected one, as (read, expected).

    Absent, null and empty are the same; lists of names are compared without order, figures to the
    millimetre and to 0.05 bar; fields beyond the contract only where they are expected.
    """
    names = (set(got) | set(wanted)) - set(free)
    found = {}
    for name in sorted(names):
        if name in PRIVATE and name not in wanted:
            continue
        one, two = _plain(name, got.get(name)), _plain(name, wanted.get(name))
        if not _same(one, two):
            found[name] = (got.get(name), wanted.get(name))
    return found


def _silent(name: str, pair: tuple[Any, Any], got: dict[str, Any]) -> bool:
    """Whether a difference is a value acted on though nobody said it, or a danger that nobody heard."""
    if name == "hazards" and got.get("purpose") != "unclear" and set(pair[1] or ()) - set(pair[0] or ()):
        return True
    if name in ("questions", "purpose", "unread") or name in got.get("questions", ()):
        return False
    read_, wanted = pair
    if isinstance(read_, list):
        return any(item not in (wanted or []) for item in read_)
    return read_ is not None


def _row(line: str, number: int) -> tuple[str, dict[str, Any], tuple[str, ...]]:
    try:
        row = json.loads(line)
        return str(row["text"]), dict(row.get("expect") or {}), tuple(row.get("asked", ()))
    except (ValueError, KeyError, TypeError) as error:
        raise ValueError(f'line {number}: not a JSON object with "text" and "expect": {error}') from error


def _plain(name: str, value: Any) -> Any:
    if value in (None, [], {}, ()):
        return None
    if name in SETS:
        return sorted(value)
    if isinstance(value, dict):
        kept = {key: one for key, one in value.items() if one is not None and one is not False}
        return kept or None
    if isinstance(value, list):
        return [_plain("", one) for one in value]
    return value


def _same(one: Any, two: Any, key: str = "") -> bool:
    if isinstance(one, dict) and isinstance(two, dict):
        return one.keys() == two.keys() and all(_same(one[name], two[name], name) for name in one)
    if isinstance(one, list) and isinstance(two, list):
        return len(one) == len(two) and all(_same(a, b, key) for a, b in zip(one, two, strict=True))
    if isinstance(one, (int, float)) and isinstance(two, (int, float)) and not isinstance(one, bool):
        return abs(one - two) <= TOLERANCE.get(key, 0.00051)
    return bool(one == two)
