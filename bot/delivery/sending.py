"""Takes texts out of the outbox and sends them. It decides nothing: the outbox says what goes and when."""

import asyncio
import logging
import random
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Protocol

from aiohttp import ClientError, ClientSession, ClientTimeout

from bot.channels.base import Image, SendRequest, Sent
from bot.delivery.outbox import Outbox, OutgoingText
from bot.delivery.rounds import Rounds, Submit
from bot.drawing.links import Links
from bot.drawing.png import NotDrawn, png
from bot.message import Reply

MOST_AT_ONCE = 16
LOOK_EVERY_S = 1.0
TIMEOUT = ClientTimeout(total=20)
MOST_ANSWER = 64 * 1024  # bytes of a provider's answer that are read

log = logging.getLogger("trenchword.sending")


class Sender(Protocol):
    """What texts can go by: a channel, or the company's own programs."""

    def reaches(self, number: str) -> bool: ...
    def request(self, reply: Reply, key: str, at: datetime) -> SendRequest | None: ...
    def picture_request(self, reply: Reply, image: Image) -> SendRequest | None: ...
    def sent(self, status: int, headers: Mapping[str, str], body: bytes) -> Sent: ...


class Sending:
    """Sends until it is cancelled; what is on its way then is brought to an end first."""

    def __init__(
        self, outbox: Outbox, channels: Mapping[str, Sender], submit: Submit, links: Links | None = None
    ) -> None:
        self._outbox = outbox
        self._channels = channels
        self._links = links
        self._rounds = Rounds(submit, most=MOST_AT_ONCE, every_s=LOOK_EVERY_S, log=log)
        self.wake = self._rounds.wake

    async def run(self) -> None:
        """Send for ever."""
        async with ClientSession(timeout=TIMEOUT) as session:
            try:
                await self._rounds.surely(self._outbox.recover)
                while True:
                    await self._begin(session)
                    await self._rounds.rest()
            finally:
                await self._rounds.end()

    async def _begin(self, session: ClientSession) -> None:
        if (room := self._rounds.room) == 0:
            return
        for going in await self._rounds.surely(lambda: self._outbox.take(datetime.now(UTC), room)):
            self._rounds.begin(self._send(session, going))

    async def _send(self, session: ClientSession, going: OutgoingText) -> None:
        sent = await self._try(session, going)
        if not sent.ok:
            log.warning("not sent: text=%s try=%d permanent=%s", going.key, going.tries, sent.permanent)
        await self._rounds.surely(lambda: self._outbox.ended(going, sent, datetime.now(UTC), random.random()))

    async def _try(self, session: ClientSession, going: OutgoingText) -> Sent:
        channel = self._channels.get(going.channel)
        if channel is None:
            return Sent(ok=False, why=f"channel {going.channel} is not set up")
        if not channel.reaches(going.reply.to):
            return Sent(ok=False, permanent=True, why="this channel does not reach the number")
        try:
            request = await self._request(channel, going)
        except NotDrawn as error:
            log.error("no picture: text=%s %s", going.key, error)
            return Sent(ok=False, permanent=True, why="the picture could not be drawn")
        if request is None:
            return Sent(ok=False, permanent=True, why="this channel cannot send by itself")
        try:
            return await _exchange(session, channel, request)
        except (ClientError, TimeoutError, OSError, ValueError) as error:
            # Only the kind of error: its text may hold the url, and the url a secret.
            return Sent(ok=False, why=type(error).__name__)

    async def _request(self, channel: Sender, going: OutgoingText) -> SendRequest | None:
        """Raises NotDrawn."""
        if going.sketch is None:
            return channel.request(going.reply, going.key, datetime.now(UTC))
        if going.svg is None:
            raise NotDrawn("it is not kept any more")
        link = self._links.to(going.sketch, datetime.now(UTC)) + ".png" if self._links else ""
        image = Image(await asyncio.to_thread(png, going.svg), link)
        return channel.picture_request(going.reply, image)


async def _exchange(session: ClientSession, channel: Sender, request: SendRequest) -> Sent:
    # A redirect would carry name and password to somebody else.
    async with session.request(
        request.method, request.url, headers=request.headers, data=request.body, allow_redirects=False
    ) as response:
        body = await response.content.read(MOST_ANSWER)
        headers = {name.lower(): value for name, value in response.headers.items()}
        return channel.sent(response.status, headers, body)
