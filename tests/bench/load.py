"""Loads an HTTP server over connections that stay open: each sends its next request when it has its answer.

Requests are made beforehand, and the answers hardly looked at, so that the client takes little of the time.
"""

import asyncio
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from statistics import quantiles

Request = tuple[bytes, bytes]  # headers, body
OUTCOME, KIND = b'"outcome":', b'"kind":"'


@dataclass(frozen=True)
class Loaded:
    """What one load showed."""

    per_second: float
    p50_ms: float
    p99_ms: float
    client: float  # share of the time that this process computed
    took_ms: list[float] = field(default_factory=list, repr=False)
    kinds: Counter[str] = field(default_factory=Counter, repr=False)  # of the outcomes, of our own service


class _Connection(asyncio.Protocol):
    """One connection that stays open: `answered` is told of each whole answer."""

    def __init__(self, answered: Callable[["_Connection", bytes], None]) -> None:
        self._answered = answered
        self._came = b""
        self.begun = 0.0
        self.done: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport

    def send(self, request: bytes, begun: float) -> None:
        """Send a request that was due at `begun`."""
        self.begun = begun
        self._transport.write(request)

    def end(self) -> None:
        self._transport.close()
        self.done.set_result(None)

    def data_received(self, data: bytes) -> None:
        self._came += data
        head, blank, body = self._came.partition(b"\r\n\r\n")
        if not blank:
            return
        length = int(head.lower().partition(b"content-length:")[2].partition(b"\r\n")[0])
        if len(body) < length:
            return
        if not head.startswith(b"HTTP/1.1 200"):
            self.done.set_exception(RuntimeError(self._came.decode()))
            return
        self._came = b""
        self._answered(self, body)

    def connection_lost(self, error: Exception | None) -> None:
        if not self.done.done():
            self.done.set_exception(error or ConnectionError("the server hung up"))


async def _opened(
    port: int, connections: int, answered: Callable[[_Connection, bytes], None]
) -> list[_Connection]:
    loop = asyncio.get_running_loop()
    return [
        (await loop.create_connection(lambda: _Connection(answered), "127.0.0.1", port))[1]
        for _ in range(connections)
    ]


async def load(port: int, path: str, requests: Iterable[Request], connections: int) -> Loaded:
    """Send all requests over so many connections. Raises RuntimeError for an answer other than 200."""
    every = iter([whole(path, headers, body) for headers, body in requests])
    took: list[float] = []
    kinds: Counter[str] = Counter()

    def go_on(connection: _Connection) -> None:
        if (request := next(every, None)) is None:
            connection.end()
        else:
            connection.send(request, time.perf_counter())

    def answered(connection: _Connection, body: bytes) -> None:
        took.append(time.perf_counter() - connection.begun)
        if (at := body.find(OUTCOME)) >= 0:
            kind = body.find(KIND, at) + len(KIND)
            kinds[body[kind : body.index(b'"', kind)].decode()] += 1
        go_on(connection)

    opened = await _opened(port, connections, answered)
    begun, worked = time.perf_counter(), time.process_time()
    for connection in opened:
        go_on(connection)
    await asyncio.gather(*(connection.done for connection in opened))
    lasted, worked = time.perf_counter() - begun, time.process_time() - worked
    hundredths = quantiles(took, n=100)
    return Loaded(
        len(took) / lasted,
        hundredths[49] * 1000,
        hundredths[98] * 1000,
        worked / lasted,
        [each * 1000 for each in took],
        kinds,
    )


async def at_times(
    port: int, path: str, timed: Sequence[tuple[float, Callable[[], Request]]], connections: int
) -> list[float]:
    """Send each request at its time, in seconds from now and in order, however the server fares, over as many
    connections at most. Returns how long after its time each was answered, in the order given.

    Raises RuntimeError for an answer other than 200.
    """
    most = asyncio.Semaphore(connections)
    at_work: dict[_Connection, asyncio.Future[None]] = {}
    idle: list[_Connection] = []
    begun = time.perf_counter()

    def answered(connection: _Connection, body: bytes) -> None:
        at_work.pop(connection).set_result(None)

    async def one(due: float, request: bytes) -> float:
        async with most:
            while True:
                while idle and idle[-1].done.done():
                    idle.pop().done.exception()  # the server hangs up where nothing comes for a while
                connection = idle.pop() if idle else (await _opened(port, 1, answered))[0]
                there = at_work[connection] = asyncio.get_running_loop().create_future()
                connection.send(request, due)
                await asyncio.wait((there, connection.done), return_when=asyncio.FIRST_COMPLETED)
                if there.done():
                    idle.append(connection)
                    return time.perf_counter() - due
                if not isinstance(connection.done.exception(), ConnectionError):
                    connection.done.result()

    tasks = []
    for at_s, made in timed:
        if (wait := begun + at_s - time.perf_counter()) > 0:
            await asyncio.sleep(wait)
        tasks.append(asyncio.create_task(one(begun + at_s, whole(path, *made()))))
    took = await asyncio.gather(*tasks)
    for connection in idle:
        if not connection.done.done():
            connection.end()
    return took


def whole(path: str, headers: bytes, body: bytes) -> bytes:
    """One request as it goes over the line."""
    return (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n".encode()
        + headers
        + f"Content-Length: {len(body)}\r\n\r\n".encode()
        + body
    )
