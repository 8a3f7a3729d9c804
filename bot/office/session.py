"""Who a page is shown to: their cookie, and what their forms must carry."""

import hashlib

from aiohttp import web

from bot.office.users import User

COOKIE = "trenchword_office"
USER = web.RequestKey("user", User)


def form_token(cookie: str) -> str:
    """What every form must carry: only a page of ours could work it out from the cookie."""
    return hashlib.sha256(b"form:" + cookie.encode()).hexdigest()


def by_https(request: web.Request) -> bool:
    """Whether the visitor came by https, perhaps through a proxy. A false header harms only its sender."""
    return request.secure or request.headers.get("X-Forwarded-Proto") == "https"


def give_cookie(request: web.Request, response: web.StreamResponse, value: str) -> None:
    """Hand out the only cookie there is; it goes with the browser."""
    response.set_cookie(
        COOKIE, value, path="/office", httponly=True, samesite="Strict", secure=by_https(request)
    )
