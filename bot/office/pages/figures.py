"""The data files, and what a change to one would change on the open trenches, before anybody makes it."""

import asyncio

from aiohttp import web

from bot.office.desk import DESK
from bot.office.guard import keeper
from bot.office.paper import page
from bot.office.standing import open_trenches
from bot.office.what_if import consequences, data_files, tables_with, text_of
from knowledge.sourced import DataError

MOST = 200_000  # signs of a data file


async def every(request: web.Request) -> web.StreamResponse:
    """The files."""
    return page(
        request, "figures.html", files=data_files(), stamp=request.config_dict[DESK].books.tables.stamp
    )


async def show(request: web.Request) -> web.StreamResponse:
    """One file, to be read or tried with other figures."""
    name = _name(request)
    return page(request, "figure_file.html", name=name, text=text_of(name), error="", found=None, tried=False)


@keeper
async def work(request: web.Request) -> web.StreamResponse:
    """Try a text in place of a file. Nothing is saved: the file that was tried can be taken away."""
    desk, name, form = request.config_dict[DESK], _name(request), await request.post()
    text = str(form.get("text", ""))[:MOST].replace("\r\n", "\n")
    if "take" in form:
        response = web.Response(text=text, content_type="application/toml")
        response.headers["Content-Disposition"] = f'attachment; filename="{name.rpartition("/")[2]}"'
        return response
    open_ = await desk.read(lambda shelf: open_trenches(shelf, desk))
    error, found = "", None
    try:
        after = await asyncio.to_thread(tables_with, name, text)
        found = await asyncio.to_thread(consequences, open_, desk.now, desk.books.tables, after)
    except DataError as wrong:
        error = str(wrong)
    return page(request, "figure_file.html", name=name, text=text, error=error, found=found, tried=True)


def _name(request: web.Request) -> str:
    name = request.match_info["name"]
    if name not in data_files():
        raise web.HTTPNotFound(text=f"There is no data file {name}.")
    return name


routes = [
    web.get("/figures", every),
    web.get("/figures/{name:.+}", show),
    web.post("/figures/{name:.+}", work),
]
