"""Texts that fall due as time goes by. Each has a key of its own, so that none goes out twice."""

from datetime import datetime, timedelta
from hashlib import blake2s
from typing import NamedTuple

from bot.config.basis import Basis
from bot.config.people import People
from bot.delivery import outbox
from bot.delivery.events import Events
from bot.delivery.outbox import Outbox
from bot.delivery.route import Route
from bot.dialogue.context import shift
from bot.language.catalog import spoken
from bot.message import Alert, Person, Reply
from bot.storage.records import MOST_EVENTS, Records
from bot.storage.turns import Store
from knowledge.entry.due import Due, ahead

FEW_EVENTS = 1_000  # of the records at hand: a site is looked at once, and then not for long
LOOK_AGAIN = timedelta(hours=1)
"""No site is left longer than this without a look, whatever the one before found."""

_Stand = tuple[int, int]
"""How many trenches of a site are open, and the last exchange that told of one: anything told changes it."""


class _Look(NamedTuple):
    """A look at a site that left nothing to be put: how it stood then, and until when nothing falls due."""

    stand: _Stand
    at: datetime
    until: datetime


class Reminders:
    """What falls due on the open trenches. Every method runs inside the store's open transaction."""

    def __init__(
        self, store: Store, people: People, basis: Basis, ways: Route, events: Events | None = None
    ) -> None:
        self._store = store
        self._people = people
        self._basis = basis
        self._ways = ways
        self._events = events
        self._records = self._kept()
        self._outbox = Outbox(store.db)
        self._looks: dict[str, _Look] = {}
        self._stands: dict[str, _Stand] = {}

    def use(self, basis: Basis, people: People) -> None:
        """Remind by these from now on."""
        self._basis, self._people = basis, people
        self._records = self._kept()
        self._looks = {}

    def _kept(self) -> Records:
        return Records(self._store.db, self._basis.tables, MOST_EVENTS if self._events else FEW_EVENTS)

    def sites(self, now: datetime) -> list[str]:
        """The sites with an open trench of which something may be due: all but those where nothing was when
        they were last looked at, nothing was told since, and nothing has come to its time."""
        found = self._store.db.execute(
            "SELECT site, count(*), max(exchange) FROM trenches WHERE open = 1 GROUP BY site"
        )
        self._stands = {site: (count, latest) for site, count, latest in found}
        self._looks = {site: look for site, look in self._looks.items() if site in self._stands}
        return [site for site, stand in self._stands.items() if not self._quiet(site, stand, now)]

    def _quiet(self, site: str, stand: _Stand, now: datetime) -> bool:
        if self._events:  # programs hear of leave at the minute it ends, which is no time that falls due
            return False
        look = self._looks.get(site)
        return look is not None and look.stand == stand and look.at <= now < look.until

    def remind(self, site: str, now: datetime, at: datetime) -> None:
        """Put into the outbox what is due on a site at `now`; `at` is the machine's time, for sending."""
        hours = shift(self._people.site(site))
        trenches = self._records.open(site).values()
        if self._events:
            self._events.of_site(trenches, now, self._basis.tables, hours)
        coming = ahead(trenches, now, self._basis.tables, hours)
        done = True
        for each in coming:
            for person in self._people.on_site(site) if each.at <= now else ():
                if person.role in each.to:
                    done = self._put(each, person, at) and done
        stand = self._stands.get(site)
        if done and stand:
            until = min(hours.close(now), now + LOOK_AGAIN, *(each.at for each in coming if each.at > now))
            self._looks[site] = _Look(stand, now, until)

    def _put(self, each: Due, person: Person, at: datetime) -> bool:
        """Whether it is in the outbox from an earlier time: what is put there now may come to nothing yet."""
        text = self._said(each, person)
        channel = self._ways.to(Reply(to=person.number, text=text))
        if channel is None:
            return False
        alert = Alert(to=person.number, text=text, why=each.id)
        # Keys stand in the service's own log, where no number belongs.
        key = f"{each.key}/{blake2s(person.number.encode(), digest_size=6).hexdigest()}"
        return not self._outbox.put(outbox.rows(key, None, channel, [(alert, channel)]), at)

    def _said(self, each: Due, person: Person) -> str:
        """The sentence in the language in which this person last texted."""
        catalogs, language = self._basis.catalogs, self._store.language(person.number)
        rulebook = self._people.site(person.site).rulebook
        catalog = spoken(catalogs, language if language in catalogs else "en", rulebook)
        template = catalog.rules.get(each.id)
        return catalog.fill(template, each.numbers) if template else each.say
