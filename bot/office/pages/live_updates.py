"""Tells open pages that the record changed, by server-sent events; each then fetches itself again."""

import asyncio
import contextlib

from aiohttp import web

from bot.office.context import OfficeContext, ReadConnection

LOOK_EVERY_S = 0.4
BEAT_EVERY_S = 1.0  # a page that hears nothing for longer says that it is not live
BEATS = 900
MOST = 100  # pages open at once


class ChangeWatcher:
    """Looks for changes while any page is open, and counts them."""

    def __init__(self, office: OfficeContext) -> None:
        self._office = office
        self._looking: asyncio.Task[None] | None = None
        self._news = asyncio.Condition()
        self._version: tuple[int, ...] = ()
        self.changes = 0
        self.open = 0
        self.ended = False

    async def news(self, seen: int, within_s: float) -> int:
        """How many changes there were, as soon as that is more than `seen`, or when the time is over."""
        if self._looking is None or self._looking.done():
            self._looking = asyncio.create_task(self._look_on())
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(within_s), self._news:
                await self._news.wait_for(lambda: self.changes > seen or self.ended)
        return self.changes

    async def look(self) -> int:
        """How many changes there were, with one that nobody has looked for yet."""
        found = await self._office.read(_version)
        if found != self._version:
            self._version = found
            async with self._news:
                self.changes += 1
                self._news.notify_all()
        return self.changes

    async def end(self) -> None:
        """Let every page go: the service stops."""
        self.ended = True
        async with self._news:
            self._news.notify_all()

    async def _look_on(self) -> None:
        while self.open and not self.ended:
            await asyncio.sleep(LOOK_EVERY_S)
            await self.look()


WATCH = web.AppKey("watch", ChangeWatcher)


async def live(request: web.Request) -> web.StreamResponse:
    """The stream of one open page. It ends now and then, so that the next one asks again who is there."""
    watch = request.config_dict[WATCH]
    if watch.open >= MOST:
        raise web.HTTPServiceUnavailable(text="Too many live pages are open.")
    response = web.StreamResponse(headers={"Content-Type": "text/event-stream", "X-Accel-Buffering": "no"})
    await response.prepare(request)
    watch.open += 1
    try:
        seen = await watch.look()  # before the page hears that it is live, and fetches itself
        await response.write(b"retry: 1000\n\n")
        for _ in range(BEATS):
            told, seen = seen, await watch.news(seen, BEAT_EVERY_S)
            if watch.ended:
                break
            await response.write(b"event: changed\ndata: \n\n" if seen > told else b"event: beat\ndata: \n\n")
    except ConnectionError:
        pass  # the page was closed
    finally:
        watch.open -= 1
    return response


def _version(connection: ReadConnection) -> tuple[int, ...]:
    """What is different after any change that pages show."""
    row = connection.db.execute(
        "SELECT (SELECT max(exchange) FROM turns), (SELECT count(*) FROM outbox WHERE state = 'failed'),"
        " (SELECT max(change) FROM changes), (SELECT sum(times) FROM refused),"
        " (SELECT count(*) FROM acknowledged), (SELECT max(picture) FROM pictures)"
    ).fetchone()
    return tuple(n or 0 for n in row)


routes = [web.get("/live", live)]
