"""What time it is for the service: the machine's clock, or the messages' own in a replay."""

from datetime import UTC, datetime
from typing import Protocol

from bot.message import Message


class Clock(Protocol):
    """Tells the time. A message that comes in may move it on."""

    def now(self, message: Message | None = None) -> datetime: ...


class MachineClock:
    """The machine's own clock, UTC."""

    def now(self, message: Message | None = None) -> datetime:
        return datetime.now(UTC)


class MessageClock:
    """The latest `sent_at` seen: demo chats and outside checks replay days in seconds."""

    def __init__(self, latest: datetime | None = None) -> None:
        self._latest = latest or datetime.fromtimestamp(0, UTC)

    def now(self, message: Message | None = None) -> datetime:
        if message:
            self._latest = max(self._latest, message.sent_at)
        return self._latest
