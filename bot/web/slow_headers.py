"""Callers who connect and never end their headers: each holds a file descriptor that a crew's text needs."""

import asyncio
import logging
from time import monotonic

from aiohttp import web

HEADERS_S = 10.0  # for the first byte of a call to the last of its headers; also between two calls
LOOK_EVERY_S = 1.0

log = logging.getLogger("trenchword.web")


async def watch(server: web.Server, limit_s: float = HEADERS_S, every_s: float = LOOK_EVERY_S) -> None:
    """Let go, for ever, of connections on which no call has been whole for `limit_s`."""
    idle: dict[web.RequestHandler, float] = {}
    while True:
        now = monotonic()
        # The server hands a call over, and names it here, once its headers are whole.
        open_ = [each for each in server.connections if each._current_request is None]
        idle = {each: idle.get(each, now) for each in open_}
        for each, since in idle.items():
            if now - since >= limit_s and each.transport is not None:
                each.transport.abort()
        await asyncio.sleep(every_s)
