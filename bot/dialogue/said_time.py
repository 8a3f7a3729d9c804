"""When a time said in a text was."""

from datetime import datetime, time, timedelta, tzinfo

from knowledge.tables.load import Tables


def past(said: str, sent: datetime, zone: tzinfo, tables: Tables) -> datetime | None:
    """The last time of that clock on the wall of the site before `sent`, UTC; None where that is too long ago
    to be meant, so that it is a time to come.

    A clock that runs ahead is forgiven as a sender's own is, and never believed: it is then `sent`.
    """
    local = sent.astimezone(zone)
    at = datetime.combine(local.date(), time.fromisoformat(said), zone)
    if at > sent + tables.entry.figure.clock_skew.span:
        at -= timedelta(days=1)
    return min(at, sent).astimezone(sent.tzinfo) if sent - at <= tables.entry.figure.said_back.span else None
