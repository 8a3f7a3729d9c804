"""Takes texts out of the outbox and sends them. It decides nothing: the outbox says what goes and when."""

import asyncio
import logging
import random
import sqlite3
from collections.abc import Awaitable, Callable, Mapping
from datetime import UTC, datetime
from typing import Protocol, TypeVar

from aiohttp import ClientError, ClientSession, ClientTimeout

from bot.channels.base import Image, SendRequest, Sent
from bot.delivery.outbox import Outbox, OutgoingText
from bot.drawing.links import Links
from bot.drawing.png import NotDrawn, png
from bot.message import Reply
from bot.storage.writer import Busy

MOST_AT_ONCE = 16
LOOK_EVERY_S = 1.0
TIMEOUT = ClientTimeout(total=20)
MOST_ANSWER = 64 * 1024  # bytes of a provider's answer that are read

T = TypeVar("T")
log = logging.getLogger("trenchword.sending")


class Submit(Protocol):
    """Has work done inside a transaction of the store."""

    def __call__(self, work: Callable[[], T]) -> Awaitable[T]: ...


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
        self._submit = submit
        self._links = links
        self._tasks: set[asyncio.Task[None]] = set()
        self._woken = asyncio.Event()

    def wake(self) -> None:
        """Look into the outbox now, not only at the next second."""
        self._woken.set()

    async def run(self) -> None:
        """Send for ever."""
        async with ClientSession(timeout=TIMEOUT) as session:
            try:
                await self._surely(self._outbox.recover)
                while True:
                    await self._begin(session)
                    await self._rest()
            finally:
                if self._tasks:
                    await asyncio.wait(self._tasks)

    async def _begin(self, session: ClientSession) -> None:
        room = MOST_AT_ONCE - len(self._tasks)
        if room == 0:
            return
        for going in await self._surely(lambda: self._outbox.take(datetime.now(UTC), room)):
            task = asyncio.create_task(self._send(session, going))
            self._tasks.add(task)
            task.add_done_callback(self._done)

    def _done(self, task: asyncio.Task[None]) -> None:
        self._tasks.discard(task)
        self._woken.set()

    async def _rest(self) -> None:
        try:
            async with asyncio.timeout(LOOK_EVERY_S):
                await self._woken.wait()
        except TimeoutError:
            pass
        self._woken.clear()

    async def _send(self, session: ClientSession, going: OutgoingText) -> None:
        sent = await self._try(session, going)
        if not sent.ok:
            log.warning("not sent: text=%s try=%d permanent=%s", going.key, going.tries, sent.permanent)
        await self._surely(lambda: self._outbox.ended(going, sent, datetime.now(UTC), random.random()))

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

    async def _surely(self, work: Callable[[], T]) -> T:
        """The result of work on the store, tried until the store takes it."""
        while True:
            try:
                return await self._submit(work)
            except (sqlite3.Error, Busy) as error:
                log.error("outbox: %s: %s", type(error).__name__, error)
                await asyncio.sleep(LOOK_EVERY_S)


async def _exchange(session: ClientSession, channel: Sender, request: SendRequest) -> Sent:
    # A redirect would carry name and password to somebody else.
    async with session.request(
        request.method, request.url, headers=request.headers, data=request.body, allow_redirects=False
    ) as response:
        body = await response.content.read(MOST_ANSWER)
        headers = {name.lower(): value for name, value in response.headers.items()}
        return channel.sent(response.status, headers, body)
