"""Loads an HTTP server over connections that stay open: each sends its next request when it has its answer.

Requests are made beforehand, and the answers hardly looked at, so that the client takes little of the time.
"""

import asyncio
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from statistics import quantiles

Request = tuple[bytes, bytes]  # headers, body


@dataclass(frozen=True)
class Loaded:
    """What one load showed."""

    per_second: float
    p50_ms: float
    p99_ms: float
    client: float  # share of the time that this process computed


class _Connection(asyncio.Protocol):
    def __init__(self, requests: Iterator[bytes], took: list[float]) -> None:
        self._requests = requests
        self._took = took
        self._begun = 0.0
        self._came = b""
        self.done: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport

    def send(self) -> None:
        request = next(self._requests, None)
        if request is None:
            self._transport.close()
            self.done.set_result(None)
            return
        self._begun = time.perf_counter()
        self._transport.write(request)

    def data_received(self, data: bytes) -> None:
        self._came += data
        head, blank, body = self._came.partition(b"\r\n\r\n")
        if not blank:
            return
        length = int(head.lower().partition(b"content-length:")[2].partition(b"\r\n")[0])
        if len(body) < length:
            return
        self._took.append(time.perf_counter() - self._begun)
        if not head.startswith(b"HTTP/1.1 200"):
            self.done.set_exception(RuntimeError(self._came.decode()))
            return
        self._came = b""
        self.send()

    def connection_lost(self, error: Exception | None) -> None:
        if not self.done.done():
            self.done.set_exception(error or ConnectionError("the server hung up"))


async def load(port: int, path: str, requests: Iterable[Request], connections: int) -> Loaded:
    """Send all requests over so many connections. Raises RuntimeError for an answer other than 200."""
    whole = iter([_whole(path, headers, body) for headers, body in requests])
    took: list[float] = []
    loop = asyncio.get_running_loop()
    opened = [
        (await loop.create_connection(lambda: _Connection(whole, took), "127.0.0.1", port))[1]
        for _ in range(connections)
    ]
    begun, worked = time.perf_counter(), time.process_time()
    for connection in opened:
        connection.send()
    await asyncio.gather(*(connection.done for connection in opened))
    lasted, worked = time.perf_counter() - begun, time.process_time() - worked
    hundredths = quantiles(took, n=100)
    return Loaded(len(took) / lasted, hundredths[49] * 1000, hundredths[98] * 1000, worked / lasted)


def _whole(path: str, headers: bytes, body: bytes) -> bytes:
    return (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n".encode()
        + headers
        + f"Content-Length: {len(body)}\r\n\r\n".encode()
        + body
    )
