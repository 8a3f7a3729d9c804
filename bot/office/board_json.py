"""The open trenches as JSON behind a token, for a company's own board. It names nobody."""

import time
from collections.abc import Awaitable, Callable
from datetime import datetime

from aiohttp import web
from pydantic import SecretStr

from bot.channels.base import same_secret
from bot.office.alarms import Alarm, alarms
from bot.office.board import inspected
from bot.office.context import OfficeContext, ReadConnection
from bot.office.open_trenches import TrenchStatus, trench_statuses
from bot.web.openapi import Bad, BoardTrench, BoardTrenches
from bot.web.rate_limit import Buckets, RateLimit

OFTEN = RateLimit(burst=30, per_minute=120)
"""Of all boards together, whoever asks: each call works every open trench anew."""


def handler(
    office: OfficeContext, secrets: tuple[SecretStr, ...]
) -> Callable[[web.Request], Awaitable[web.Response]]:
    """What answers `GET /trenches.json`."""
    wanted = [each.get_secret_value() for each in secrets]
    calls = Buckets(OFTEN)

    def find(connection: ReadConnection) -> BoardTrenches:
        now = office.now
        deaf = [each for each in alarms(connection.db, office.people, now) if each.seen_to is None]
        return BoardTrenches(
            at=now,
            trenches=tuple(
                _told(each, office, now, deaf) for each in trench_statuses(connection, office, now)
            ),
        )

    async def answer(request: web.Request) -> web.Response:
        if not calls.takes("", time.monotonic()):
            return _json(Bad(error="too often"), 429, {"Retry-After": "5"})
        kind, _, token = request.headers.get("Authorization", "").partition(" ")
        if kind.lower() != "bearer" or not same_secret(token, wanted):
            return _json(Bad(error="the token is needed"), 401, {"WWW-Authenticate": "Bearer"})
        return _json(await office.read(find), 200, {})

    return answer


def _told(status: TrenchStatus, office: OfficeContext, now: datetime, deaf: list[Alarm]) -> BoardTrench:
    trench, state, worst = status.trench, status.trench.now, status.worst
    seen = inspected(status, office.basis.tables, now)
    return BoardTrench(
        site=trench.site,
        trench=trench.ref,
        state=status.standing.name,
        says=status.state if not status.entry.allowed_by else "People let in",
        facts=tuple(dict.fromkeys(gap.missing.fact for gap in status.gaps)),
        since=worst.since if worst else None,
        dug_m=state.dug_m,
        planned_m=state.plan.stages_m[-1] if state.plan else state.details.depth_m,
        units_set=state.shores.standing,
        units_planned=state.shores.planned,
        inspected_at=seen.at if seen else None,
        inspection_counts=bool(seen and seen.until),
        let_in_until=status.entry.until if status.entry.allowed_by else None,
        people_in=state.heads,
        not_told=sum(a.site == trench.site and trench.ref in a.refs for a in deaf),
        heard_at=status.heard_at,
    )


def _json(body: BoardTrenches | Bad, status: int, headers: dict[str, str]) -> web.Response:
    text = body.model_dump_json(exclude_defaults=isinstance(body, Bad))
    return web.Response(
        text=text,
        status=status,
        content_type="application/json",
        headers={**headers, "Cache-Control": "no-store"},
    )
