"""Which texts of late would be read otherwise with other words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from bot.language.lexicon import Lexicon
from bot.office.worked_again import Difference, changed
from bot.reading.read import read
from bot.storage.turns import moment

DAYS = 14
MOST = 1000  # texts tried, the latest of those days


@dataclass(frozen=True)
class PastText:
    """A text on the log, and the language in which it was read."""

    exchange: int
    text: str
    language: str


@dataclass(frozen=True)
class ReadOtherwise:
    """A text that would be read otherwise."""

    exchange: int
    text: str
    differences: tuple[Difference, ...]


def latest_texts(db: Database, now: datetime) -> list[PastText]:
    """The latest texts of the crews, each once, newest first."""
    found = db.execute(
        "SELECT exchange, text, json_extract(manner, '$.language') FROM turns"
        " WHERE text IS NOT NULL AND site != '' AND sent_at >= ? ORDER BY sent_at DESC LIMIT ?",
        (moment(now - timedelta(days=DAYS)), MOST),
    )
    once = {text: PastText(exchange, text, language or "en") for exchange, text, language in found}
    return list(once.values())


def read_otherwise(texts: Sequence[PastText], before: Lexicon, after: Lexicon) -> list[ReadOtherwise]:
    """Those that would be read otherwise, each by itself: what it was an answer to is not looked at."""
    found = []
    for each in texts:
        then, now = (read(each.text, words, language=each.language).reading for words in (before, after))
        if then != now:
            found.append(ReadOtherwise(each.exchange, each.text, tuple(changed(then.public(), now.public()))))
    return found
