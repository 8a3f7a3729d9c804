"""The web server: hooks in, answers out. It decides nothing."""

import asyncio
import logging
import sqlite3
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from functools import partial
from importlib.metadata import version
from itertools import groupby
from typing import TypeVar

from aiohttp import web, web_response

from bot.channels.base import BadHook, Channel, Hook, HookAnswer, HookContent, Picture, SmsPart
from bot.clock import Clock
from bot.config.basis import Basis
from bot.config.people import People
from bot.delivery import events
from bot.delivery.fetching import Fetching
from bot.delivery.reminders import Reminders
from bot.delivery.sending import Sender, Sending
from bot.message import Message
from bot.service import NO_ANSWER, Service
from bot.storage import refused
from bot.storage.refused import Refusals, RefusedText
from bot.storage.turns import Answered, Store
from bot.storage.writer import Busy, Writer
from bot.web import sketch_page
from bot.web.metrics import CONTENT_TYPE, Metrics
from bot.web.openapi import BOARD, description
from bot.web.rate_limit import PER_CHANNEL, PER_SENDER, Buckets

BODY_TIMEOUT_S = 10
FEW_WAIT = 4  # texts before it, that a hazard can wait for
REMIND_EVERY_S = 60  # goes through every open trench; what falls due does so by the quarter of an hour
FORM = 1 << 20  # bytes of a form of the office: a file of words is in one
KEEP_REFUSED_EVERY_S = 1  # a flood of refusals must not make a flood of writing

# It stands in answers to what is no HTTP, which nothing of ours sees.
web_response.SERVER_SOFTWARE = ""  # type: ignore[attr-defined]

T = TypeVar("T")
log = logging.getLogger("trenchword.app")


class HookService:
    """What the web server hands messages to."""

    def __init__(
        self, store: Store, service: Service, reminders: Reminders, channels: Mapping[str, Channel]
    ) -> None:
        self.service = service
        self.reminders = reminders
        self.channels = channels
        self.writer = Writer(store)
        self._db = store.db
        self.senders = Buckets(PER_SENDER)
        self.floods = Buckets(PER_CHANNEL)
        self.refusals = Refusals()
        self.metrics = Metrics()
        self.before_close: list[Callable[[], None]] = []  # of others who read the log: it closes after them
        senders: dict[str, Sender] = {**channels}
        if service.events:
            senders[events.CHANNEL] = service.events.programs
        self.sending = Sending(service.outbox, senders, self.submit, service.sketches.links)
        kept = service.pictures
        self.fetching = Fetching(kept, channels, self.submit) if kept else None

    def submit(self, work: Callable[[], T]) -> Awaitable[T]:
        """Have `work` done inside a transaction; it is on the disk when this returns."""
        return asyncio.wrap_future(self.writer.submit(work))

    def submit_text(self, given: Message | SmsPart, pictures: Sequence[Picture] = ()) -> Awaitable[Answered]:
        """Have a text answered. Where others wait, one that sounds dangerous goes before them."""
        urgent = self.writer.waiting >= FEW_WAIT and self.service.sounds_dangerous(message_of(given))
        if isinstance(given, Message):
            work = partial(self.service.answer, given, pictures)
        else:
            work = partial(self.service.take_piece, given)
        return asyncio.wrap_future(self.writer.submit(work, urgent=urgent))

    def use(self, basis: Basis, people: People) -> None:
        """Answer and remind from these from the next message on. Runs between two, by `submit`."""
        self.service.use(basis, people)
        self.reminders.use(basis, people)

    def paces(self, channel: Channel, message: Message) -> bool:
        """Whether its sender and its channel may send one more text now."""
        now = time.monotonic()
        return not channel.paced or (
            self.senders.takes(message.sender, now) and self.floods.takes(channel.name, now)
        )

    def refuse(self, channel: Channel, messages: Sequence[Message], why: str) -> HookAnswer:
        """Tell the sender to ring, and keep before the office what the record does not have."""
        for message in messages:
            log.error("text refused: channel=%s message=%s why=%s", channel.name, message.id, why)
            self.refusals.add(RefusedText(channel.name, message.sender, why, message.received_at))
        self.metrics.refused(channel.name, len(messages))
        return channel.busy(messages[0], NO_ANSWER) if messages else HookAnswer(503)

    async def tell_to_ring(self, channel: Channel, sender: str, id: str, why: str, at: datetime) -> None:
        """Text one of the crew whose text of a batch was not taken; the hook's answer does not reach them.

        With `why` the office sees it too.
        """
        if why:
            self.refusals.add(RefusedText(channel.name, sender, why, at))
            self.metrics.refused(channel.name, 1)
        if sender:
            with suppress(sqlite3.Error, Busy):
                await self.submit(partial(self.service.tell_to_ring, channel, sender, id, at))

    async def keep_refusals(self) -> None:
        """Write down what was refused, as soon as that can be written."""
        ones = self.refusals.unwritten()
        if ones:
            await self.submit(partial(self._write_refused, ones, datetime.now(UTC)))
            self.refusals.written(ones)

    def _write_refused(self, ones: Sequence[RefusedText], now: datetime) -> None:
        refused.write(self._db, ones, now)
        if self.service.events:
            self.service.events.of_refused(ones)


HOOKS = web.AppKey("shop", HookService)


def application(
    store: Store, service: Service, reminders: Reminders, clock: Clock, channels: Mapping[str, Channel]
) -> web.Application:
    """The service on HTTP. Stopping it answers what was taken and closes the log."""
    most = max(FORM, *(channel.body_limit for channel in channels.values()))
    app = web.Application(client_max_size=most + 1)
    hooks = app[HOOKS] = HookService(store, service, reminders, channels)
    app.add_routes(
        [
            web.get("/health", health),
            web.get("/metrics", metrics),
            web.get("/openapi.json", openapi),
            web.route("*", "/hook/{channel}", hook),
            web.route("*", "/hook/{channel}/{rest:.*}", hook),
        ]
    )

    sketch_page.setup(app, service.sketches, hooks.submit)

    async def run(_: web.Application) -> AsyncIterator[None]:
        work = (
            hooks.sending.run(),
            _remind(hooks, reminders, clock),
            _keep_refusals(hooks),
            *([hooks.fetching.run()] if hooks.fetching else []),
        )
        tasks = [asyncio.create_task(each) for each in work]
        yield
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, hooks.keep_refusals(), return_exceptions=True)
        await asyncio.to_thread(hooks.writer.stop)
        for let_go in hooks.before_close:
            await asyncio.to_thread(let_go)
        store.close()

    app.cleanup_ctx.append(run)
    app.on_response_prepare.append(_add_headers)
    return app


async def _add_headers(_: web.Request, response: web.StreamResponse) -> None:
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers.pop("Server", None)  # which versions run here is nobody's business


async def _remind(hooks: HookService, reminders: Reminders, clock: Clock) -> None:
    """Put what falls due into the outbox, site by site, so that no message waits long for it."""
    while True:
        try:
            for site in await hooks.submit(partial(reminders.sites, clock.now())):
                await hooks.submit(partial(reminders.remind, site, clock.now(), datetime.now(UTC)))
        except Exception:
            log.exception("reminders")
        await asyncio.sleep(REMIND_EVERY_S)


async def _keep_refusals(hooks: HookService) -> None:
    while True:
        with suppress(sqlite3.Error, Busy):  # they wait, and are written later
            await hooks.keep_refusals()
        await asyncio.sleep(KEEP_REFUSED_EVERY_S)


async def health(request: web.Request) -> web.Response:
    """Whether the service answers, and how many messages wait."""
    return web.json_response({"ok": True, "waiting": request.app[HOOKS].writer.waiting})


async def metrics(request: web.Request) -> web.Response:
    """Counts for whoever watches over the service."""
    hooks = request.app[HOOKS]
    text = hooks.metrics.text(hooks.writer.waiting, await hooks.submit(hooks.service.outbox.counts))
    return web.Response(body=text, headers={"Content-Type": CONTENT_TYPE})


async def openapi(request: web.Request) -> web.Response:
    """The hooks that are set up, as an OpenAPI description."""
    board = any(each.canonical == BOARD for each in request.app.router.resources())
    return web.json_response(description(request.app[HOOKS].channels, version("trenchword"), board))


async def hook(request: web.Request) -> web.Response:
    """Hand a hook to its channel, keep what it brought, and only then answer it."""
    name = request.match_info["channel"]
    hooks = request.app[HOOKS]
    channel = hooks.channels.get(name)
    if channel is None:
        return web.json_response({"error": f"there is no channel {name!r}"}, status=404)
    try:
        taken = channel.read(await _hook(request, channel))
    except BadHook as bad:
        log.warning("hook refused: channel=%s status=%d why=%s", name, bad.status, bad.why)
        hooks.refusals.add(RefusedText(name, "", bad.why, datetime.now(UTC)))
        answer = channel.refuse(bad)
    else:
        answer = taken.answer or await _answer(hooks, channel, taken)
    hooks.metrics.answered(name, answer.status)
    return _response(answer)


async def _answer(hooks: HookService, channel: Channel, taken: HookContent) -> HookAnswer:
    for bad in taken.not_taken:
        log.error("text refused: channel=%s message=%s why=%s", channel.name, bad.id, bad.why)
        await hooks.tell_to_ring(channel, bad.sender, bad.id, bad.why, datetime.now(UTC))
    given: list[Message | SmsPart] = [*taken.messages, *taken.pieces]
    works: list[Message | SmsPart] = []
    held_back: list[Message] = []
    for one in given:
        if hooks.paces(channel, message_of(one)):
            works.append(one)
        else:
            held_back.append(message_of(one))
    if held_back and not works:
        return hooks.refuse(channel, held_back, "too many texts")
    messages = [message_of(one) for one in works]
    if not hooks.fetching:
        for picture in taken.pictures:
            log.info("picture not kept: channel=%s message=%s", channel.name, picture.message_id)
    now = datetime.now(UTC)
    try:
        for receipt in taken.receipts:
            await hooks.submit(partial(hooks.service.take_receipt, channel.name, receipt, now))
        answered = await _answered(hooks, channel, works, taken.pictures)
        for message in held_back:  # of a batch: the provider is told that it has come, and brings it no more
            hooks.refuse(channel, [message], "too many texts")
            await hooks.tell_to_ring(channel, message.sender, message.id, "", now)
    except Busy:
        return hooks.refuse(channel, messages, "too many wait already")
    except sqlite3.Error as error:
        return hooks.refuse(channel, messages, f"{type(error).__name__}: {error}")
    except Exception:
        log.exception("no answer: channel=%s", channel.name)
        return hooks.refuse(channel, messages, "an error of ours")
    if hooks.service.outbox.fresh:
        hooks.sending.wake()
    if hooks.fetching and hooks.service.pictures and hooks.service.pictures.fresh:
        hooks.fetching.wake()
    return channel.answer(answered)


def message_of(given: Message | SmsPart) -> Message:
    """The message that came, or of which a part did."""
    return given if isinstance(given, Message) else given.message


async def _answered(
    hooks: HookService,
    channel: Channel,
    works: Sequence[Message | SmsPart],
    pictures: Sequence[Picture],
) -> list[Answered]:
    """The answers to what one hook brought, all on the disk. What fails for its own sake keeps no other out.

    Raises what failed where that was every one, or where the provider is to bring the hook once more.
    """
    of = {id: tuple(pictures) for id, pictures in groupby(pictures, lambda each: each.message_id)}
    jobs = [hooks.submit_text(one, of.get(message_of(one).id, ())) for one in works]
    found = await asyncio.gather(*jobs, return_exceptions=True)
    answered = [one for one in found if isinstance(one, Answered)]
    for one, error in zip(works, found, strict=True):
        if not isinstance(error, BaseException):
            continue
        if not answered or isinstance(error, (Busy, sqlite3.Error)) or not isinstance(error, Exception):
            raise error
        log.error("no answer: channel=%s", channel.name, exc_info=error)
        message = message_of(one)
        hooks.refuse(channel, [message], "an error of ours")
        await hooks.tell_to_ring(channel, message.sender, message.id, "", datetime.now(UTC))
    return answered


async def _hook(request: web.Request, channel: Channel) -> Hook:
    try:
        async with asyncio.timeout(BODY_TIMEOUT_S):
            body = await request.read()
    except web.HTTPRequestEntityTooLarge:
        raise BadHook(413, f"the body is longer than {channel.body_limit} bytes") from None
    except TimeoutError:
        raise BadHook(408, "the body did not come in time") from None
    except (web.RequestPayloadError, ConnectionError):
        raise BadHook(400, "the body cannot be read") from None
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
