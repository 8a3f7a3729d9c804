"""Texts that fall due as time goes by. Each has a key of its own, so that none goes out twice."""

from datetime import datetime
from hashlib import blake2s

from bot.config.basis import Basis
from bot.config.people import People
from bot.delivery import outbox
from bot.delivery.events import Events
from bot.delivery.outbox import Outbox
from bot.delivery.route import Route
from bot.dialogue.context import shift
from bot.language.catalog import spoken
from bot.message import Alert, Person, Reply
from bot.storage.records import Records
from bot.storage.turns import Store
from knowledge.entry.due import Due, due


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
        self._records = Records(store.db, basis.tables)
        self._outbox = Outbox(store.db)

    def use(self, basis: Basis, people: People) -> None:
        """Remind by these from now on."""
        self._basis, self._people = basis, people
        self._records = Records(self._store.db, basis.tables)

    def sites(self) -> list[str]:
        """The sites that have an open trench."""
        return [
            site for (site,) in self._store.db.execute("SELECT DISTINCT site FROM trenches WHERE open = 1")
        ]

    def remind(self, site: str, now: datetime, at: datetime) -> None:
        """Put into the outbox what is due on a site at `now`; `at` is the machine's time, for sending."""
        terms = self._people.site(site)
        trenches = self._records.open(site).values()
        if self._events:
            self._events.of_site(trenches, now, self._basis.tables, shift(terms))
        for each in due(trenches, now, self._basis.tables, shift(terms)):
            for person in self._people.on_site(site):
                if person.role in each.to:
                    self._put(each, person, at)

    def _put(self, each: Due, person: Person, at: datetime) -> None:
        text = self._said(each, person)
        channel = self._ways.to(Reply(to=person.number, text=text))
        if channel:
            alert = Alert(to=person.number, text=text, why=each.id)
            # Keys stand in the service's own log, where no number belongs.
            key = f"{each.key}/{blake2s(person.number.encode(), digest_size=6).hexdigest()}"
            self._outbox.put(outbox.rows(key, None, channel, [(alert, channel)]), at)

    def _said(self, each: Due, person: Person) -> str:
        """The sentence in the language in which this person last texted."""
        catalogs, language = self._basis.catalogs, self._store.language(person.number)
        rulebook = self._people.site(person.site).rulebook
        catalog = spoken(catalogs, language if language in catalogs else "en", rulebook)
        template = catalog.rules.get(each.id)
        return catalog.fill(template, each.numbers) if template else each.say
