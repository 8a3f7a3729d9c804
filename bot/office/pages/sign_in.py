"""Signing in and out."""

import asyncio
import secrets
import time
from datetime import UTC, datetime

from aiohttp import web

from bot.office import passwords, users
from bot.office.context import OFFICE
from bot.office.render import page
from bot.office.session import COOKIE, USER, form_token, give_cookie
from bot.web.rate_limit import Buckets, RateLimit

PER_NAME_THERE = RateLimit(burst=5, per_minute=2)  # one name tried from one address
PER_NAME = RateLimit(
    burst=30, per_minute=10
)  # one name tried from anywhere: its owner is not locked out by others
PER_ADDRESS = RateLimit(burst=30, per_minute=10)
WRONG = "Name or password is wrong."
TOO_MANY = "Too many attempts. Wait a minute, then try again."


class Attempts:
    """How often somebody may try."""

    def __init__(self) -> None:
        self._there, self._name = Buckets(PER_NAME_THERE), Buckets(PER_NAME)
        self._address = Buckets(PER_ADDRESS)
        self._one_at_a_time = asyncio.Semaphore(1)  # a hash takes tens of megabytes

    def allowed(self, name: str, address: str) -> bool:
        """Whether one more attempt is taken."""
        now = time.monotonic()
        return (
            self._address.takes(address, now)
            and self._there.takes(f"{address} {name}", now)
            and self._name.takes(name, now)
        )

    async def right(self, password: str, kept: str) -> bool:
        """Whether the password is right, worked out beside the event loop."""
        async with self._one_at_a_time:
            return await asyncio.to_thread(passwords.matches, password, kept)


ATTEMPTS = web.AppKey("attempts", Attempts)


async def show(request: web.Request) -> web.StreamResponse:
    """The form. Its token belongs to a cookie of its own, so that nobody can be signed in unawares."""
    if USER in request:
        raise web.HTTPSeeOther("/office/")
    return _form(request)


async def sign_in(request: web.Request) -> web.StreamResponse:
    """Check name and password, begin a session under a new token, and go where the visitor wanted."""
    office, attempts, form = (
        request.config_dict[OFFICE],
        request.config_dict[ATTEMPTS],
        await request.post(),
    )
    name, password = str(form.get("name", "")).strip()[:80], str(form.get("password", ""))
    if not attempts.allowed(name, request.remote or ""):
        return _form(request, TOO_MANY, 429)
    user, kept = await office.read(lambda connection: users.find(connection.db, name))
    if not await attempts.right(password, kept) or user is None:
        return _form(request, WRONG, 401)
    token = await office.write(lambda: users.begin(office.db, user, datetime.now(UTC)))
    response = web.HTTPSeeOther(_inside(str(form.get("to", ""))))
    give_cookie(request, response, token)
    raise response


async def sign_out(request: web.Request) -> web.StreamResponse:
    """End the session here and in the database."""
    office, token = request.config_dict[OFFICE], request.cookies.get(COOKIE, "")
    await office.write(lambda: users.end(office.db, token))
    response = web.HTTPSeeOther("/office/login")
    response.del_cookie(COOKIE, path="/office")
    raise response


def _form(request: web.Request, why: str = "", status: int = 200) -> web.Response:
    cookie = secrets.token_urlsafe(32)
    to = _inside(request.query.get("to", ""))
    response = page(request, "login.html", status=status, why=why, to=to, login_token=form_token(cookie))
    give_cookie(request, response, cookie)
    return response


def _inside(to: str) -> str:
    """Where to go after signing in: a page of the office, whatever the link said."""
    return (
        to
        if to.startswith("/office/") and "\\" not in to and not to.startswith("/office/login")
        else "/office/"
    )


routes = [
    web.get("/login", show),
    web.post("/login", sign_in),
    web.post("/logout", sign_out),
]
