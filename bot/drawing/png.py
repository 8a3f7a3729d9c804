"""A drawing as a PNG: what channels carry that know nothing of SVG.

The library draws without letting other threads run, so it draws in a process of its own: this file, run.
"""

import sys
from functools import lru_cache
from importlib.resources import files

from bot.drawing.own_process import NotDone, result_of

WIDE = 1080  # pixels: three for each of the 360 that a small phone is wide
TIMEOUT_S = 20


class NotDrawn(Exception):  # noqa: N818 - it says what is lacking
    """The picture could not be made. The words still can be sent."""


@lru_cache(maxsize=32)
def png(svg: str) -> bytes:
    """The drawing on white. It takes a good tenth of a second: call it on a thread. Raises NotDrawn."""
    try:
        return result_of(__file__, svg.encode(), TIMEOUT_S)
    except NotDone as error:
        raise NotDrawn(str(error)) from error


def _draw(svg: str) -> bytes:
    """Drawn with letters that come along: the machine may have none of its own."""
    import resvg_py

    folder = files("font_lato") / "files"
    return resvg_py.svg_to_bytes(
        svg_string=svg,
        width=WIDE,
        background="#ffffff",
        skip_system_fonts=True,
        font_files=[str(folder / f"Lato-{weight}.ttf") for weight in ("Regular", "Bold")],
        sans_serif_family="Lato",
    )


if __name__ == "__main__":
    sys.stdout.buffer.write(_draw(sys.stdin.buffer.read().decode()))
