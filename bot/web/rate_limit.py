"""How much one sender, and one channel, may send: a bucket that fills at a steady rate. It reads no clock."""

from collections import OrderedDict
from dataclasses import dataclass


@dataclass(frozen=True)
class RateLimit:
    """`burst` texts at once, then `per_minute`."""

    burst: int
    per_minute: float


PER_SENDER = RateLimit(burst=20, per_minute=20)
"""A thumb on a phone cannot do more; a phone gone mad stays within it."""

PER_CHANNEL = RateLimit(burst=500, per_minute=6000)
"""Well under what one machine answers, so that a flood on one channel leaves room for the others."""

PER_LINKS = RateLimit(burst=60, per_minute=240)
"""For all who open links to sketches together: behind a proxy they have one address."""

MOST_KEPT = 10_000
"""Buckets remembered. A bucket that is full again says nothing that a forgotten one would not."""


class Buckets:
    """One bucket a name, made full when it is first asked for."""

    def __init__(self, limit: RateLimit, most_kept: int = MOST_KEPT) -> None:
        self._limit = limit
        self._most_kept = most_kept
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def takes(self, name: str, now: float) -> bool:
        """True, and one taken out, where the bucket holds one. `now` in seconds of a steady clock."""
        left, at = self._left.pop(name, (float(self._limit.burst), now))
        # A clock that steps back fills nothing and takes nothing away.
        left = min(self._limit.burst, left + max(0.0, now - at) * self._limit.per_minute / 60)
        taken = left >= 1
        self._left[name] = (left - taken, max(now, at))
        if len(self._left) > self._most_kept:
            self._left.popitem(last=False)
        return taken
