"""Picture files as phones, and people who mean harm, make them; and a provider that hands them out."""

import asyncio
import io
import struct
import zlib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from aiohttp import web
from aiohttp.test_utils import TestServer
from PIL import Image, PngImagePlugin

HIDDEN = (b"Mill Lane 14", b"Sam of the tests", b"profile of the tests", b"after the end")
"""Words that stand in the file of a picture, and in nothing that it shows."""


def shown(size: tuple[int, int] = (640, 480)) -> Image.Image:
    """Red on the left, blue on the right."""
    made = Image.new("RGB", size, "red")
    made.paste("blue", (size[0] // 2, 0, *size))
    return made


def file_of(kind: str, image: Image.Image | None = None, **how: object) -> bytes:
    """An image as a file of a kind."""
    out = io.BytesIO()
    (image or shown()).save(out, kind, **how)
    return out.getvalue()


def told_too_much(orientation: int = 1) -> bytes:
    """A JPEG with a position, a name, a comment, a colour profile, and more after its end."""
    exif = Image.Exif()
    exif[0x010E], exif[0x013B], exif[0x0112] = "Mill Lane 14", "Sam of the tests", orientation
    position = exif.get_ifd(0x8825)
    position.update({1: "N", 2: (51.0, 30.0, 26.0), 3: "W", 4: (0.0, 7.0, 39.0)})
    whole = file_of("JPEG", exif=exif, comment=b"Sam of the tests", icc_profile=b"profile of the tests")
    return whole + b"after the end"


def png_with_words() -> bytes:
    """A PNG with words beside its pixels, half of it seen through."""
    words = PngImagePlugin.PngInfo()
    words.add_text("Comment", "Mill Lane 14")
    image = shown().convert("RGBA")
    image.putalpha(Image.new("L", image.size, 0))
    return file_of("PNG", image, pnginfo=words)


def claiming(wide: int, high: int) -> bytes:
    """A PNG of some hundred bytes that says that it is as large as that."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def moving(kind: str) -> bytes:
    """A picture that moves."""
    return file_of(kind, save_all=True, append_images=[shown().rotate(180)], duration=100)


HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 200

BAD: dict[str, tuple[bytes, str]] = {
    "no picture": (b"<html>no such file</html>", "none of the kinds that are kept"),
    "another kind": (file_of("BMP"), "none of the kinds that are kept"),
    "vectors": (b'<svg xmlns="http://www.w3.org/2000/svg"/>', "none of the kinds that are kept"),
    "HEIC": (HEIC, "HEIC"),
    "cut off": (file_of("JPEG", quality=95)[:2000], "damaged"),
    "cut off PNG": (file_of("PNG")[:-600], "damaged"),
    "a head alone": (b"\xff\xd8\xff\xe0", "none of the kinds that are kept"),
    "moving GIF": (moving("GIF"), "it moves"),
    "moving WEBP": (moving("WEBP"), "it moves"),
    "moving PNG": (moving("PNG"), "it moves"),
    "a bomb": (claiming(30_000, 30_000), "million pixels"),
    "the largest bomb": (claiming(2**31 - 1, 2**31 - 1), "million pixels"),
    "nothing": (b"", "nothing came"),
}


class Provider:
    """Hands out one file at every place by which a channel asks for one. `script` says what is answered
    before: a status, or "hang up"."""

    def __init__(self) -> None:
        self.file = told_too_much()
        self.script: list[str] = []
        self.asked: list[tuple[str, str]] = []  # path with query, and what it was authorised by
        self.url = ""

    async def answer(self, request: web.Request) -> web.StreamResponse:
        """One request. Texts are posted, and are no part of the script."""
        if request.method == "POST":
            return web.json_response({"ok": True})
        self.asked.append((request.path_qs, request.headers.get("Authorization", "")))
        path, does = request.path, self.script.pop(0) if self.script else "200"
        if does == "hang up":
            assert request.transport is not None
            request.transport.close()
        if does not in ("200", "hang up"):
            return web.Response(status=int(does), headers={"Location": f"{self.url}/moved"})
        if path.endswith("/getFile"):
            return web.json_response({"ok": True, "result": {"file_path": "photos/file_1.jpg"}})
        if path.endswith("/media-1"):
            return web.json_response({"url": f"{self.url}/attachments/?mid=1", "mime_type": "image/jpeg"})
        if path.endswith("/endless"):
            response = web.StreamResponse()
            await response.prepare(request)
            try:
                while True:
                    await response.write(b"\0" * 65536)
            except (ConnectionError, asyncio.CancelledError):
                return response
        return web.Response(body=self.file, content_type="image/jpeg")

    @asynccontextmanager
    async def there(self) -> AsyncIterator["Provider"]:
        """On a port until the block ends."""
        app = web.Application()
        app.router.add_route("*", "/{path:.*}", self.answer)
        async with TestServer(app) as server:
            self.url = str(server.make_url("")).rstrip("/")
            yield self
