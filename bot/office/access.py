"""Who gets in, checked before every page of the office, and the headers after it."""

import hmac
import logging
from datetime import UTC, datetime
from urllib.parse import quote

from aiohttp import web
from aiohttp.typedefs import Handler

from bot.office import users
from bot.office.context import OFFICE
from bot.office.render import page
from bot.office.session import COOKIE, USER, by_https, form_token

OPEN = ("/office/login", "/office/static/")  # what nobody needs to sign in for
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self';"
        " form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
OURS = "An error of ours: this page could not be made. The log of the service says why."
NOWHERE = "There is no such page."
log = logging.getLogger("trenchword.office")


def keepers_only(work: Handler) -> Handler:
    """A page for keepers only."""

    async def guarded(request: web.Request) -> web.StreamResponse:
        if request[USER].role != "keeper":
            raise web.HTTPForbidden(text="Only a keeper may do that.")
        return await work(request)

    return guarded


async def add_headers(request: web.Request, response: web.StreamResponse) -> None:
    """Put the headers on every answer."""
    response.headers.update(HEADERS)
    if not request.path.startswith("/office/static/"):
        response.headers["Cache-Control"] = "no-store"
    if by_https(request):
        response.headers["Strict-Transport-Security"] = "max-age=31536000"


@web.middleware
async def check_access(request: web.Request, handler: Handler) -> web.StreamResponse:
    """Let in who is signed in, take forms only from our own pages, and say plainly what went wrong."""
    try:
        await _know(request)
        if request.method == "POST":
            await _check_form(request)
        return await handler(request)
    except web.HTTPException as error:
        if error.status < 400:
            raise
        bare = error.text in (None, f"{error.status}: {error.reason}")
        return _sorry(request, error.status, NOWHERE if error.status == 404 and bare else error.text or "")
    except Exception:
        log.exception("no page: %s", request.path)
        return _sorry(request, 500, OURS)


async def _know(request: web.Request) -> None:
    token, now = request.cookies.get(COOKIE, ""), datetime.now(UTC)
    found = await request.config_dict[OFFICE].read(
        lambda connection: users.signed_in(connection.db, token, now)
    )
    if found:
        request[USER] = found
    elif not request.path.startswith(OPEN):
        raise web.HTTPSeeOther(f"/office/login?to={quote(request.raw_path)}")


async def _check_form(request: web.Request) -> None:
    cookie = request.cookies.get(COOKIE, "")
    try:
        given = str((await request.post()).get("form_token", ""))
    except (web.RequestPayloadError, ValueError, LookupError):
        raise web.HTTPBadRequest(text="This form cannot be read.") from None
    if not cookie or not hmac.compare_digest(given.encode(), form_token(cookie).encode()):
        raise web.HTTPForbidden(text="This form has expired. Go back and reload.")


def _sorry(request: web.Request, status: int, why: str) -> web.Response:
    return page(request, "sorry.html", status=status, why=why)
