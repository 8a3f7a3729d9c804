"""By which channel a text can reach a number."""

from collections.abc import Mapping

from bot.channels.base import Channel
from bot.message import Reply
from bot.storage.turns import Store


class Route:
    """The channels that are set up, and the one that somebody last texted on."""

    def __init__(self, store: Store, channels: Mapping[str, Channel]) -> None:
        self._store = store
        self._channels = channels

    def to(self, text: Reply) -> Channel | None:
        """The channel that can send this text, best the one last texted on.

        Where none can it is any, on which the text fails, and the office sees that. None without channels.
        """
        able = {
            name: channel
            for name, channel in self._channels.items()
            if channel.send_url and channel.reaches(text.to)
        }
        last = self._store.last_channel(text.to)
        return able.get(last or "") or next(iter((able or self._channels).values()), None)
