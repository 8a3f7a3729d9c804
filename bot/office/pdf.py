"""Papers as PDF, from the very pages that are shown: WeasyPrint lays them out, in a process of its own.

It takes a second and some memory, and reads nothing but what it is handed: no address, no file.
"""

import sys
from typing import Literal, NoReturn, get_args

from bot.drawing.own_process import NotDone, result_of

PaperSize = Literal["A4", "Letter"]
SIZES: tuple[str, ...] = get_args(PaperSize)
TIMEOUT_S = 60


class NotLaidOut(Exception):  # noqa: N818 - it says what is lacking
    """The PDF could not be made. The page can still be printed."""


def pdf(html: str, style: str, size: PaperSize) -> bytes:
    """A page as a PDF. Takes a second or two: call it on a thread. Raises NotLaidOut."""
    whole = f"{len(style)}\n{style}\n@page {{ size: {size}; }}\n{html}"
    try:
        return result_of(__file__, whole.encode(), TIMEOUT_S)
    except NotDone as error:
        raise NotLaidOut(str(error)) from error


def _never(url: str, **_: object) -> NoReturn:
    raise ValueError("a paper fetches nothing")


def _laid_out(whole: str) -> bytes:
    from weasyprint import CSS, HTML  # type: ignore[import-untyped]

    length, _, rest = whole.partition("\n")
    style, html = rest[: int(length)], rest[int(length) :]
    page, _, html = html.lstrip("\n").partition("\n")
    sheets = [CSS(string=each, media_type="print", url_fetcher=_never) for each in (style, page)]
    made = HTML(string=html, media_type="print", url_fetcher=_never).write_pdf(stylesheets=sheets)
    return bytes(made or b"")


if __name__ == "__main__":
    sys.stdout.buffer.write(_laid_out(sys.stdin.buffer.read().decode()))
