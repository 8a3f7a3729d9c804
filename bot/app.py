"""The web server: hooks in, answers out. It decides nothing."""

import asyncio
import logging
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial

from aiohttp import web

from bot.channel import BadHook, Channel, Hook, HookAnswer
from bot.message import Message
from bot.service import Service
from bot.store import Store
from bot.writer import Busy, Writer

NO_ANSWER = "No answer. Do not go in. Ring your supervisor."
BODY_TIMEOUT_S = 10

log = logging.getLogger("trenchword.app")


@dataclass(frozen=True)
class Shop:
    """What the web server hands messages to."""

    service: Service
    writer: Writer
    channels: Mapping[str, Channel]
    public_url: str = ""


SHOP = web.AppKey("shop", Shop)


def application(
    store: Store, service: Service, channels: Mapping[str, Channel], public_url: str = ""
) -> web.Application:
    """The service on HTTP. Stopping it answers what was taken and closes the log."""
    app = web.Application(client_max_size=max(channel.body_limit for channel in channels.values()) + 1)
    writer = Writer(store)
    app[SHOP] = Shop(service, writer, channels, public_url)
    app.add_routes(
        [
            web.get("/health", health),
            web.route("*", "/hook/{channel}", hook),
            web.route("*", "/hook/{channel}/{rest:.*}", hook),
        ]
    )

    async def stop(_: web.Application) -> None:
        await asyncio.to_thread(writer.stop)
        store.close()

    app.on_cleanup.append(stop)
    return app


async def health(request: web.Request) -> web.Response:
    """Whether the service answers, and how many messages wait."""
    return web.json_response({"ok": True, "waiting": request.app[SHOP].writer.waiting})


async def hook(request: web.Request) -> web.Response:
    """Hand a hook to its channel, keep what it brought, and only then answer it."""
    name = request.match_info["channel"]
    channel = request.app[SHOP].channels.get(name)
    if channel is None:
        return web.json_response({"error": f"there is no channel {name!r}"}, status=404)
    try:
        taken = channel.read(await _hook(request, channel))
    except BadHook as bad:
        log.warning("hook refused: channel=%s status=%d why=%s", name, bad.status, bad.why)
        return _response(channel.refuse(bad))
    if taken.answer is not None:
        return _response(taken.answer)
    return _response(await _answer(request.app[SHOP], channel, taken.messages))


async def _answer(shop: Shop, channel: Channel, messages: tuple[Message, ...]) -> HookAnswer:
    try:
        waiting = [
            asyncio.wrap_future(shop.writer.submit(partial(shop.service.answer, message)))
            for message in messages
        ]
        answered = await asyncio.gather(*waiting)
    except (Busy, sqlite3.Error) as error:
        log.error("no answer: channel=%s %s: %s", channel.name, type(error).__name__, error)
        return channel.busy(messages[0], NO_ANSWER)
    return channel.answer(answered)


async def _hook(request: web.Request, channel: Channel) -> Hook:
    try:
        async with asyncio.timeout(BODY_TIMEOUT_S):
            body = await request.read()
    except web.HTTPRequestEntityTooLarge:
        raise BadHook(413, f"the body is longer than {channel.body_limit} bytes") from None
    except TimeoutError:
        raise BadHook(408, "the body did not come in time") from None
    if len(body) > channel.body_limit:
        raise BadHook(413, f"the body is longer than {channel.body_limit} bytes")
    return Hook(
        method=request.method,
        url=f"{request.scheme}://{request.host}{request.raw_path}",
        headers={key.lower(): value for key, value in request.headers.items()},
        body=body,
        received_at=datetime.now(UTC),
    )


def _response(answer: HookAnswer) -> web.Response:
    headers = {"Content-Type": answer.content_type, **answer.headers}
    return web.Response(status=answer.status, body=answer.body, headers=headers)
