"""A photograph made anew from what it shows: no words, place or name that were hidden in its file stay.

What a stranger made is opened in a process of its own with little memory and time: this file, run.
"""

import io
import json
import sys
import warnings
from dataclasses import dataclass
from typing import NoReturn

from bot.drawing.own_process import NotDone, result_of

MOST_BYTES = 12 * 1024 * 1024  # a phone's camera makes 2 to 8 MB
MOST_PIXELS = 64_000_000  # what most phones' cameras have; a file of a few bytes can claim any number
LONGEST_SIDE = 1600  # pixels: the figures of a gauge can be read, and it takes some 300 kB
QUALITY = 82
KINDS = ("JPEG", "PNG", "WEBP", "GIF")
MEMORY = 1024 * 1024 * 1024  # bytes: an opened picture takes up to four a pixel, and is turned once
TIMEOUT_S = 30


class NotKept(Exception):  # noqa: N818 - it says what became of it
    """Why a picture is not kept, in plain words."""


@dataclass(frozen=True)
class Photograph:
    """A JPEG with nothing in it but the picture; sides in pixels."""

    jpeg: bytes
    wide: int
    high: int


def plain(given: bytes) -> Photograph:
    """The picture alone, the right way up, no larger than is of use. Call it on a thread. Raises NotKept."""
    if len(given) > MOST_BYTES:
        raise NotKept(f"it is larger than {MOST_BYTES >> 20} MB")
    if not given:
        raise NotKept("nothing came")
    try:
        head, _, jpeg = result_of(__file__, given, TIMEOUT_S).partition(b"\n")
    except NotDone as error:
        raise NotKept("it could not be opened with the memory and time that there are for it") from error
    told = json.loads(head)
    if "why" in told:
        raise NotKept(told["why"])
    return Photograph(jpeg, told["wide"], told["high"])


def _bounded() -> None:
    try:
        import resource
    except ImportError:  # no such limits on this system: the bounds above must do
        return
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (TIMEOUT_S, TIMEOUT_S))


def _end(head: dict[str, object], jpeg: bytes = b"") -> NoReturn:
    sys.stdout.buffer.write(json.dumps(head).encode() + b"\n" + jpeg)
    sys.stdout.buffer.flush()
    sys.exit()


def _make(given: bytes) -> NoReturn:
    from PIL import Image, ImageOps, UnidentifiedImageError

    warnings.simplefilter("ignore")  # the bounds are our own
    Image.MAX_IMAGE_PIXELS = None
    if given[4:8] == b"ftyp":
        _end({"why": "it is HEIC, AVIF or a film, which is not read here: a JPEG would be"})
    try:
        opened = Image.open(io.BytesIO(given), formats=KINDS)
    except UnidentifiedImageError:
        _end({"why": f"it is none of the kinds that are kept ({', '.join(KINDS)})"})
    if opened.width * opened.height > MOST_PIXELS:
        _end({"why": f"it has more than {MOST_PIXELS // 1_000_000} million pixels"})
    # A photograph of some phones is several in one file (MPO): the first is what was taken.
    if opened.format != "MPO" and getattr(opened, "is_animated", False):
        _end({"why": "it moves: one picture is kept, not several"})
    opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG is opened no larger than it is needed
    seen = ImageOps.exif_transpose(opened).convert("RGBA")
    seen.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    made = Image.new("RGB", seen.size, "white")  # a new one: nothing but pixels can come over
    made.paste(seen, mask=seen.getchannel("A"))
    out = io.BytesIO()
    made.save(out, "JPEG", quality=QUALITY)
    _end({"wide": made.width, "high": made.height}, out.getvalue())


def _run() -> None:
    _bounded()
    try:
        _make(sys.stdin.buffer.read())
    except MemoryError:
        _end({"why": "it takes too much memory to open"})
    except Exception:  # of what a library meets in a file that somebody damaged there is no list
        _end({"why": "it is damaged"})


if __name__ == "__main__":
    _run()
