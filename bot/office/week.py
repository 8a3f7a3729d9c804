"""What happened in a week, counted from the log."""

import json
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlite_utils import Database

from bot.storage.turns import moment


@dataclass(frozen=True)
class Week:
    """`counts` by day and kind; `hazards` are the exchanges with one, oldest first, and its names."""

    counts: dict[tuple[date, str], int]
    hazards: list[tuple[dict[str, Any], list[str]]]
    stops: list[dict[str, Any]]
    trenches: int
    senders: int
    texts_failed: int
    inspections: list[dict[str, Any]]  # the register: every text of a supervisor that tells one, oldest first

    def of_kind(self, kind: str) -> int:
        return sum(n for (_, each), n in self.counts.items() if each == kind)

    def of_day(self, day: date) -> int:
        return sum(n for (each, _), n in self.counts.items() if each == day)


def week(db: Database, begin: datetime) -> Week:
    """The seven days from `begin`, which is midnight on the clock of those who read it."""
    within = {"since": moment(begin), "until": moment(begin + timedelta(days=7))}
    rows = list(
        db.query(
            "SELECT exchange, sent_at, kind, site, trench, sender, name, role, text,"
            " reading ->> '$.done' AS done, reading ->> '$.verdict' AS verdict,"
            " reading ->> '$.hazards' AS told, outcome ->> '$.hazards' AS found FROM turns"
            " WHERE sent_at >= :since AND sent_at < :until ORDER BY sent_at, exchange",
            within,
        )
    )
    days = [datetime.fromisoformat(row["sent_at"]).astimezone(begin.tzinfo).date() for row in rows]
    failed = db.execute(
        "SELECT count(*) FROM outbox WHERE state = 'failed' AND rank < 3"
        " AND made_at >= :since AND made_at < :until",
        within,
    ).fetchone()[0]
    return Week(
        counts=dict(Counter(zip(days, (row["kind"] for row in rows), strict=True))),
        hazards=[(row, names) for row in rows if (names := _hazards(row))],
        stops=[row for row in rows if row["kind"] == "stop"],
        trenches=len({(row["site"], row["trench"]) for row in rows if row["trench"]}),
        senders=len({row["sender"] for row in rows}),
        texts_failed=failed,
        inspections=[row for row in rows if row["role"] == "supervisor" and _inspects(row)],
    )


def _inspects(row: dict[str, Any]) -> bool:
    return "inspection" in json.loads(row["done"] or "[]") or row["verdict"] is not None


def _hazards(row: dict[str, Any]) -> list[str]:
    """The hazards told, and those found in what was told, such as a gauge that fell."""
    both = (json.loads(names or "[]") for names in (row["told"], row["found"]))
    return list(dict.fromkeys(name for names in both for name in names))
