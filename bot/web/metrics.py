"""Counts since the start, in the OpenMetrics text format. No name, number or text is in them."""

from collections import Counter
from collections.abc import Mapping

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"


class Metrics:
    """How many hooks of each channel were answered with which status."""

    def __init__(self) -> None:
        self._hooks: Counter[tuple[str, int]] = Counter()
        self._refused: Counter[str] = Counter()

    def answered(self, channel: str, status: int) -> None:
        """Count a hook."""
        self._hooks[channel, status] += 1

    def refused(self, channel: str, texts: int) -> None:
        """Count texts that could not be taken."""
        self._refused[channel] += texts

    def text(self, waiting: int, outbox: Mapping[str, int]) -> str:
        """All counts; `waiting` are the messages that nobody has begun, `outbox` the texts by their state."""
        lines = ["# TYPE trenchword_hooks counter", "# HELP trenchword_hooks Hooks answered."]
        lines += [
            f'trenchword_hooks_total{{channel="{channel}",status="{status}"}} {count}'
            for (channel, status), count in sorted(self._hooks.items())
        ]
        lines += [
            "# TYPE trenchword_refused counter",
            "# HELP trenchword_refused Texts not taken: told to ring.",
        ]
        lines += [
            f'trenchword_refused_total{{channel="{channel}"}} {count}'
            for channel, count in sorted(self._refused.items())
        ]
        lines += ["# TYPE trenchword_waiting gauge", "# HELP trenchword_waiting Messages not yet begun."]
        lines += [f"trenchword_waiting {waiting}"]
        lines += ["# TYPE trenchword_texts gauge", "# HELP trenchword_texts Texts of the outbox by state."]
        lines += [f'trenchword_texts{{state="{state}"}} {count}' for state, count in sorted(outbox.items())]
        return "\n".join([*lines, "# EOF", ""])
