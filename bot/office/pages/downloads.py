"""Any list of the log as a file, and the whole database."""

import asyncio
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from aiohttp import web

from bot.office import export
from bot.office.access import keepers_only
from bot.office.context import OFFICE, ReadConnection
from bot.office.pages.log_list import asked_for, to_filter
from bot.storage import log

AT_ONCE = 500  # exchanges read at a time, so that no list is ever in memory whole
BLOCK = 1 << 18


async def as_csv(request: web.Request) -> web.StreamResponse:
    """The list of the log page, all of it, as CSV."""
    # The mark at the start tells spreadsheets that it is UTF-8.
    return await _list(request, "log.csv", "text/csv", "\ufeff" + export.csv_head(), export.csv_lines)


async def as_json_lines(request: web.Request) -> web.StreamResponse:
    """The same as JSON lines."""
    return await _list(request, "log.jsonl", "application/x-ndjson", "", export.json_lines)


@keepers_only
async def database(request: web.Request) -> web.StreamResponse:
    """The SQLite file."""
    with tempfile.TemporaryDirectory(prefix="trenchword-") as folder:
        copy = Path(folder) / "copy.sqlite"
        await asyncio.to_thread(export.copied, request.config_dict[OFFICE].file, copy)
        response = _file("trenchword.sqlite", "application/vnd.sqlite3")
        response.content_length = copy.stat().st_size
        await response.prepare(request)
        with copy.open("rb") as opened:
            while block := await asyncio.to_thread(opened.read, BLOCK):
                await response.write(block)
        return response


async def _list(
    request: web.Request, name: str, kind: str, head: str, lines: Callable[[list[dict[str, Any]]], str]
) -> web.StreamResponse:
    office = request.config_dict[OFFICE]
    wanted = to_filter(asked_for(request), office)
    response = _file(name, kind)
    await response.prepare(request)
    await response.write(head.encode())
    before: int | None = None

    def next_rows(connection: ReadConnection) -> list[dict[str, Any]]:
        return log.page(connection.db, wanted, before, AT_ONCE)

    while rows := await office.read(next_rows):
        await response.write(lines(rows).encode())
        before = rows[-1]["exchange"]
    return response


def _file(name: str, kind: str) -> web.StreamResponse:
    response = web.StreamResponse(headers={"Content-Disposition": f'attachment; filename="{name}"'})
    response.content_type = kind
    return response


routes = [
    web.get("/log.csv", as_csv),
    web.get("/log.jsonl", as_json_lines),
    web.get("/database", database),
]
