"""Counts since the start, in the OpenMetrics text format. No name, number or text is in them."""

from collections.abc import Mapping

from prometheus_client import CollectorRegistry, Counter, Gauge
from prometheus_client.openmetrics import exposition

CONTENT_TYPE = exposition.CONTENT_TYPE_LATEST


class Metrics:
    """How many hooks of each channel were answered with which status, and what waits."""

    def __init__(self) -> None:
        # A registry of its own: the library's common one tells of the machine too, and is there once.
        self._registry = kept = CollectorRegistry()
        self._hooks = Counter("trenchword_hooks", "Hooks answered.", ["channel", "status"], registry=kept)
        self._refused = Counter(
            "trenchword_refused", "Texts not taken: told to ring.", ["channel"], registry=kept
        )
        self._waiting = Gauge("trenchword_waiting", "Messages not yet begun.", registry=kept)
        self._texts = Gauge("trenchword_texts", "Texts of the outbox by state.", ["state"], registry=kept)

    def answered(self, channel: str, status: int) -> None:
        """Count a hook."""
        self._hooks.labels(channel, status).inc()

    def refused(self, channel: str, texts: int) -> None:
        """Count texts that could not be taken."""
        self._refused.labels(channel).inc(texts)

    def text(self, waiting: int, outbox: Mapping[str, int]) -> bytes:
        """All counts; `waiting` are the messages that nobody has begun, `outbox` the texts by their state."""
        self._waiting.set(waiting)
        self._texts.clear()  # a state that no text is in any more
        for state, count in outbox.items():
            self._texts.labels(state).set(count)
        text: bytes = exposition.generate_latest(self._registry)  # type: ignore[no-untyped-call]
        return text
