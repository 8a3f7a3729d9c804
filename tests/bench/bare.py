"""What the road is measured against: aiohttp handlers that parse a JSON body, and one of them keeps it.

    python tests/bench/bare.py FILE      # prints its port

`/row` commits each body as a row before it answers, with the log's own settings (WAL, synchronous FULL), on
the event loop, which is the quickest way for one commit a request; `/nothing` only answers.
"""

import asyncio
import json
import sqlite3
import sys

from aiohttp import web


def application(file: str) -> web.Application:
    """Both handlers on one database."""
    db = sqlite3.connect(file, isolation_level=None)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("CREATE TABLE texts (number INTEGER PRIMARY KEY, id TEXT, sender TEXT, text TEXT)")

    async def row(request: web.Request) -> web.Response:
        given = json.loads(await request.read())
        db.execute("INSERT INTO texts (id, sender, text) VALUES (:id, :from, :text)", given)
        return web.json_response({"reply": given["text"]})

    async def nothing(request: web.Request) -> web.Response:
        given = json.loads(await request.read())
        return web.json_response({"reply": given["text"]})

    app = web.Application()
    app.add_routes([web.post("/row", row), web.post("/nothing", nothing)])
    return app


async def main(file: str) -> None:
    runner = web.AppRunner(application(file), access_log=None)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0, backlog=512).start()
    print(runner.addresses[0][1], flush=True)
    await asyncio.Event().wait()


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1]))
