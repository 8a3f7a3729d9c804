"""A running service with its office, on a real port and a real file, for the tests of its pages."""

import json
import re
import secrets
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from aiohttp import ClientSession, CookieJar, web
from sqlite_utils import Database

from bot.channels.base import Channel
from bot.channels.json import Json
from bot.clock import MachineClock
from bot.commands.serve import PEOPLE
from bot.config.basis import Basis
from bot.config.in_force import InForce
from bot.delivery.reminders import Reminders
from bot.delivery.route import Route
from bot.office import users
from bot.office.mount import setup
from bot.service import Service
from bot.storage.log import open_to_read
from bot.storage.turns import Store
from bot.web.app import application

SAM, ALEX = "+447700900123", "+447700900124"
NAME, PASSWORD = "jo", "a quiet lane in winter"


@dataclass
class Office:
    """The running service, and a visitor who may sign in as `NAME`."""

    url: str
    http: ClientSession
    store: Store
    file: Path

    @property
    def db(self) -> Database:
        """The log, read beside the service by a connection of its own."""
        return open_to_read(self.file)

    async def text(self, text: str, sender: str = SAM) -> int:
        """Send a text to the service. Returns its exchange."""
        message = {"id": secrets.token_hex(4), "from": sender, "text": text}
        message["sent_at"] = datetime.now(UTC).isoformat()
        async with self.http.post(self.url + "/hook/json", data=json.dumps(message)) as response:
            assert response.status == 200, await response.text()
            return int((await response.json())["exchange"])

    async def get(self, path: str) -> tuple[int, str]:
        async with self.http.get(self.url + path) as response:
            return response.status, await response.text()

    async def page(self, path: str) -> str:
        """A page that is there."""
        status, text = await self.get(path)
        assert status == 200, (path, status)
        return text

    async def post(self, path: str, form: dict[str, Any]) -> tuple[int, str]:
        async with self.http.post(self.url + path, data=form) as response:
            return response.status, await response.text()

    async def sign_in(self, name: str = NAME, password: str = PASSWORD) -> int:
        form = {"name": name, "password": password, "form_token": token(await self.page("/office/login"))}
        return (await self.post("/office/login", form))[0]


def token(page: str) -> str:
    """The form token of a page."""
    found = re.search(r'name="form_token" value="([0-9a-f]+)"', page)
    assert found
    return found[1]


@asynccontextmanager
async def running(
    file: Path,
    basis: Basis,
    role: users.OfficeRole = "keeper",
    channels: Mapping[str, Channel] | None = None,
    crew: Path = PEOPLE,
    **how: Any,
) -> AsyncIterator[Office]:
    """Serve a database with one office user until the block ends; `how` is for the service."""
    store = Store(file)
    with store.transaction():
        if not any(user.name == NAME for user in users.every(store.db)):
            users.add(store.db, NAME, role, PASSWORD, datetime.now(UTC))
    channels, clock = channels or {"json": Json()}, MachineClock()
    in_force = InForce.load(store.db, crew, came=basis)
    people, basis = in_force.people, in_force.basis
    service = Service(store, people, basis, clock, channels, **how)
    app = application(
        store, service, Reminders(store, people, basis, Route(store, channels)), clock, channels
    )
    setup(app, store, file, in_force, clock)
    runner = web.AppRunner(app, shutdown_timeout=2)
    await runner.setup()
    site = web.TCPSite(runner, "127.0.0.1", 0)
    await site.start()
    url = f"http://127.0.0.1:{runner.addresses[0][1]}"
    try:
        async with ClientSession(cookie_jar=CookieJar(unsafe=True)) as http:
            yield Office(url, http, store, file)
    finally:
        await runner.cleanup()
