"""Fetches the pictures that came with texts from where their providers keep them. It decides nothing.

The text was answered before: whatever goes wrong here is written down beside the exchange, and loses nothing.
"""

import asyncio
import logging
from collections.abc import Mapping
from datetime import UTC, datetime

from aiohttp import ClientError, ClientSession, ClientTimeout, DummyCookieJar

from bot.channels.base import Channel, Fetched, NotFetched, SendRequest
from bot.delivery.rounds import Rounds, Submit
from bot.drawing.photograph import MOST_BYTES, NotKept, plain
from bot.storage.pictures import PictureDue, Pictures

MOST_AT_ONCE = 2  # each is held whole, and opened in a process of its own
LOOK_EVERY_S = 5.0
TIMEOUT = ClientTimeout(total=60)
MOST_REQUESTS = 3  # on the way to one picture
BLOCK = 1 << 16

log = logging.getLogger("trenchword.fetching")


class Fetching:
    """Fetches until it is cancelled; what was on its way then is fetched at the next start."""

    def __init__(self, pictures: Pictures, channels: Mapping[str, Channel], submit: Submit) -> None:
        self._pictures = pictures
        self._channels = channels
        self._rounds = Rounds(submit, most=MOST_AT_ONCE, every_s=LOOK_EVERY_S, log=log)
        self.wake = self._rounds.wake

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
                    await self._rounds.rest()
            finally:
                for task in self._rounds.tasks:
                    task.cancel()
                await self._rounds.end()

    async def _begin(self, session: ClientSession) -> None:
        if (room := self._rounds.room) == 0:
            return
        going = set(self._rounds.tasks.values())
        for due in await self._rounds.surely(lambda: self._pictures.take(datetime.now(UTC), room, going)):
            self._rounds.begin(self._bring(session, due), due.id)

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
            await self._rounds.surely(lambda: self._pictures.kept(due, made, datetime.now(UTC)))
            return
        log.warning("picture not kept: exchange=%d final=%s why=%s", due.exchange, permanent, why)
        ended = self._pictures.not_kept if permanent else self._pictures.not_fetched
        await self._rounds.surely(lambda: ended(due, why, datetime.now(UTC)))

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
