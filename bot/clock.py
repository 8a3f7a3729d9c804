"""What time it is for the service: the machine's clock, or the messages' own in a replay."""

from datetime import UTC, datetime, timedelta
from typing import Protocol

from bot.message import Message


class Clock(Protocol):
    """Tells the time. A message that comes in may move it on."""

    def now(self, message: Message | None = None) -> datetime: ...

    def believed(self, message: Message) -> datetime:
        """When a message was sent, brought within what can be so: no clock of a phone moves the record out of
        its days."""
        ...


STRAY = (timedelta(days=14), timedelta(days=1))
"""How far before, and after, it came in a text can have been sent: networks try again for a week at most."""
REPLAY = (timedelta(days=3660), timedelta(days=3660))
"""A replay may begin in any year near this one,"""
STEP = (timedelta(days=3660), timedelta(days=31))
"""and goes on by steps that are no longer than this."""


def _within(at: datetime, about: datetime, before: timedelta, after: timedelta) -> datetime:
    return min(max(at, about - before), about + after)


class MachineClock:
    """The machine's own clock, UTC."""

    def now(self, message: Message | None = None) -> datetime:
        return datetime.now(UTC)

    def believed(self, message: Message) -> datetime:
        return _within(message.sent_at, message.received_at, *STRAY)


class MessageClock:
    """The latest time at which one of the crew texted: demo chats and outside checks replay days in seconds.

    Who hands in a message says by that that its sender may move the clock.
    """

    def __init__(self, latest: datetime | None = None) -> None:
        self._latest = latest

    def now(self, message: Message | None = None) -> datetime:
        if message:
            at = self.believed(message)
            self._latest = max(self._latest or at, at)
        return self._latest or datetime.fromtimestamp(0, UTC)

    def believed(self, message: Message) -> datetime:
        if self._latest is None:
            return _within(message.sent_at, message.received_at, *REPLAY)
        return _within(message.sent_at, self._latest, *STEP)
