"""One message taken, answered and written down: the road of `conversation.py` with its record around it."""

import logging
import secrets
from collections.abc import Callable
from datetime import UTC, datetime

from bot.books import Books
from bot.channel import Answered
from bot.clock import Clock
from bot.conversation import Scene, converse, failed
from bot.message import Message, Turn
from bot.people import People
from bot.store import Store

log = logging.getLogger("trenchword.service")


def short_code() -> str:
    """Four digits that nobody can foretell."""
    return f"{secrets.randbelow(10_000):04}"


class Service:
    """Answers messages one after another, each on the log before it is given back."""

    def __init__(
        self,
        store: Store,
        people: People,
        books: Books,
        clock: Clock,
        new_code: Callable[[], str] = short_code,
    ) -> None:
        self._store = store
        self._people = people
        self._books = books
        self._clock = clock
        self._new_code = new_code

    def answer(self, message: Message) -> Answered:
        """Answer a message inside the store's open transaction.

        A message that came before has the same answer again and changes nothing. Raises sqlite3.Error.
        """
        earlier = self._store.answered(message)
        if earlier:
            return earlier
        person = self._people.find(message.sender)
        site = self._people.site(person.site) if person else None
        scene = Scene(
            now=self._clock.now(message),
            person=person,
            site=site,
            thread=self._store.thread(message.sender),
            trenches=self._store.trenches(site.name) if site else {},
            people=self._people,
            next_ref=self._store.next_ref(site.name) if site else "",
            code=self._new_code(),
        )
        turn = self._turn(message, scene)
        try:
            return self._store.put(turn, person, site, datetime.now(UTC))
        except (TypeError, ValueError) as error:
            # A turn that cannot be written is no answer either.
            turn = self._failed(message, error)
            return self._store.put(turn, person, site, datetime.now(UTC))

    def _turn(self, message: Message, scene: Scene) -> Turn:
        try:
            return converse(message, scene, self._books.tables, self._books.words, self._books.sayings)
        except Exception as error:
            return self._failed(message, error)

    def _failed(self, message: Message, error: Exception) -> Turn:
        log.error("message %s of channel %s: no answer", message.id, message.channel, exc_info=error)
        return failed(message, error, self._books.tables, self._books.sayings["en"])
