"""Fetches the pictures that came with texts from where their providers keep them. It decides nothing.

The text was answered before: whatever goes wrong here is written down beside the exchange, and loses nothing.
"""

import asyncio
import logging
import sqlite3
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import TypeVar

from aiohttp import ClientError, ClientSession, ClientTimeout, DummyCookieJar

from bot.channels.base import Channel, Fetched, NotFetched, SendRequest
from bot.delivery.sending import Submit
from bot.drawing.photograph import MOST_BYTES, NotKept, plain
from bot.storage.pictures import PictureDue, Pictures
from bot.storage.writer import Busy

MOST_AT_ONCE = 2  # each is held whole, and opened in a process of its own
LOOK_EVERY_S = 5.0
TIMEOUT = ClientTimeout(total=60)
MOST_REQUESTS = 3  # on the way to one picture
BLOCK = 1 << 16

T = TypeVar("T")
log = logging.getLogger("trenchword.fetching")


class Fetching:
    """Fetches until it is cancelled; what was on its way then is fetched at the next start."""

    def __init__(self, pictures: Pictures, channels: Mapping[str, Channel], submit: Submit) -> None:
        self._pictures = pictures
        self._channels = channels
        self._submit = submit
        self._tasks: dict[asyncio.Task[None], int] = {}
        self._woken = asyncio.Event()

    def wake(self) -> None:
        """Look for pictures now, not only at the next time."""
        self._woken.set()

    async def run(self) -> None:
        """Fetch for ever."""
        async with ClientSession(
            timeout=TIMEOUT,
            auto_decompress=False,  # few bytes could become many
            cookie_jar=DummyCookieJar(),
            headers={"Accept-Encoding": "identity"},
        ) as session:
            try:
                while True:
                    await self._begin(session)
                    await self._rest()
            finally:
                for task in self._tasks:
                    task.cancel()
                if self._tasks:
                    await asyncio.wait(self._tasks)

    async def _begin(self, session: ClientSession) -> None:
        room = MOST_AT_ONCE - len(self._tasks)
        if room == 0:
            return
        going = set(self._tasks.values())
        for due in await self._surely(lambda: self._pictures.take(datetime.now(UTC), room, going)):
            task = asyncio.create_task(self._bring(session, due))
            self._tasks[task] = due.id
            task.add_done_callback(self._done)

    def _done(self, task: asyncio.Task[None]) -> None:
        self._tasks.pop(task, None)
        self._woken.set()

    async def _rest(self) -> None:
        try:
            async with asyncio.timeout(LOOK_EVERY_S):
                await self._woken.wait()
        except TimeoutError:
            pass
        self._woken.clear()

    async def _bring(self, session: ClientSession, due: PictureDue) -> None:
        try:
            made = await asyncio.to_thread(plain, await self._fetched(session, due))
        except NotKept as error:
            why, permanent = str(error), True
        except NotFetched as error:
            why, permanent = error.why, error.permanent
        except (ClientError, TimeoutError, OSError) as error:
            # Only the kind of error: its text may hold the url, and the url a secret.
            why, permanent = f"the provider could not be reached ({type(error).__name__})", False
        except ValueError:
            why, permanent = "its address cannot be used", True
        except Exception as error:
            log.error("picture of exchange %d: %s", due.exchange, type(error).__name__)
            why, permanent = f"an error of ours ({type(error).__name__})", True
        else:
            await self._surely(lambda: self._pictures.kept(due, made, datetime.now(UTC)))
            return
        log.warning("picture not kept: exchange=%d final=%s why=%s", due.exchange, permanent, why)
        ended = self._pictures.not_kept if permanent else self._pictures.not_fetched
        await self._surely(lambda: ended(due, why, datetime.now(UTC)))

    async def _fetched(self, session: ClientSession, due: PictureDue) -> bytes:
        """Raises NotFetched, or what asking raises."""
        channel = self._channels.get(due.channel)
        if channel is None:
            raise NotFetched(f"channel {due.channel} is not set up")
        way = channel.fetch(due.place)
        request = next(way)
        for _ in range(MOST_REQUESTS):
            if not channel.fetches_from(request.url):
                raise NotFetched("it is on a host that is not set up for pictures", permanent=True)
            answer = await _ask(session, request)
            try:
                request = way.send(answer)
            except StopIteration as end:
                body: bytes = end.value
                return body
        raise NotFetched("the provider sends us on and on", permanent=True)

    async def _surely(self, work: Callable[[], T]) -> T:
        """The result of work on the store, tried until the store takes it."""
        while True:
            try:
                return await self._submit(work)
            except (sqlite3.Error, Busy) as error:
                log.error("pictures: %s: %s", type(error).__name__, error)
                await asyncio.sleep(LOOK_EVERY_S)


async def _ask(session: ClientSession, request: SendRequest) -> Fetched:
    """One answer, no longer than a picture may be. Raises NotFetched where it is."""
    async with session.request(
        request.method, request.url, headers=request.headers, allow_redirects=False
    ) as response:
        body = bytearray()
        if (response.content_length or 0) <= MOST_BYTES:
            async for block in response.content.iter_chunked(BLOCK):
                body += block
                if len(body) > MOST_BYTES:
                    break
        if (response.content_length or 0) > MOST_BYTES or len(body) > MOST_BYTES:
            raise NotFetched(f"it is larger than {MOST_BYTES >> 20} MB", permanent=True)
        headers = {name.lower(): value for name, value in response.headers.items()}
        return Fetched(response.status, headers, bytes(body))
