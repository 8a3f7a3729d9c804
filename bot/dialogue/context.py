"""What one turn may see of the world, handed in whole: decisions need no clock and no database."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.config.people import People
from bot.message import Guest, Person, Site, Thread
from knowledge.record.shift import Shift
from knowledge.record.trench import Trench

LAPSES = timedelta(hours=12)  # what was half told, or last spoken of, counts no longer than this


@dataclass(frozen=True)
class Context:
    """Who texts, from where, when, and what stands on record."""

    now: datetime
    person: Person | None
    site: Site | None
    thread: Thread | None
    trenches: Mapping[str, Trench]  # the open ones of the site, by reference
    people: People = field(default_factory=People)
    next_ref: str = "T1"  # a reference that this site has not used yet
    code: str = ""  # a fresh short code, for letting people in
    proven: bool = True  # whether the channel proves whose text it is
    to_number: bool = True  # whether the reply goes to the sender's number on file, or can be told to nobody
    sketch_link: str = ""  # where a sketch can be seen, "" where nobody can, or where a picture is sent
    closed: Mapping[str, Trench] = field(default_factory=dict)  # the closed ones of the site
    overheard: tuple[
        Trench, ...
    ] = ()  # open trenches, of whatever site, that a text from an unknown number names

    guests: tuple[Guest, ...] = ()  # who asked to join a site, and who may text there for a shift

    @property
    def fresh(self) -> Thread | None:
        """The sender's conversation, unless it has lapsed."""
        return self.thread if self.thread and self.now - self.thread.at <= LAPSES else None


def shift(site: Site) -> Shift:
    """The site's working day on the clock on its wall."""
    return Shift(
        time.fromisoformat(site.shift_start),
        time.fromisoformat(site.shift_end),
        ZoneInfo(site.zone),
        site.work_days,
        site.days_off,
    )
