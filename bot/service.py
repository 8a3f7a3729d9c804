"""One message taken, answered and written down: `dialogue/conversation.py` with its record around it."""

import json
import logging
import secrets
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from hashlib import blake2s
from time import perf_counter

from bot.channels.base import MOST_ID, Channel, Picture, Receipt, SmsPart
from bot.clock import Clock
from bot.config.basis import Basis
from bot.config.people import People
from bot.delivery import outbox
from bot.delivery.events import Events, Programs
from bot.delivery.outbox import Outbox
from bot.delivery.route import Route
from bot.dialogue import replies
from bot.dialogue.context import Context, shift
from bot.dialogue.conversation import converse, failed, read_from
from bot.drawing.links import Links
from bot.drawing.sketch import for_phone
from bot.language.tokens import references
from bot.message import Message, Person, Reply, Turn
from bot.storage.arrivals import Arrivals
from bot.storage.guests import Guests
from bot.storage.pictures import Pictures
from bot.storage.records import Records
from bot.storage.sealed import sealed
from bot.storage.sketches import Sketches
from bot.storage.turns import Answered, Store
from knowledge.outcome import Unclear
from knowledge.reading import Reading
from knowledge.record.trench import Trench

log = logging.getLogger("trenchword.service")


NO_ANSWER = "No answer. Do not go in. Ring your supervisor."


def short_code() -> str:
    """Six digits that nobody can foretell."""
    return f"{secrets.randbelow(1_000_000):06}"


class Service:
    """Answers messages one after another, each on the log before it is given back.

    Every method runs inside the store's open transaction. Raises sqlite3.Error where that fails.
    """

    def __init__(
        self,
        store: Store,
        people: People,
        basis: Basis,
        clock: Clock,
        channels: Mapping[str, Channel] | None = None,
        new_code: Callable[[], str] = short_code,
        links: Links | None = None,
        keep_pictures: bool = False,
        programs: Programs | None = None,
    ) -> None:
        self.outbox = Outbox(store.db)
        self.sketches = Sketches(store.db, links)
        self.pictures = Pictures(store.db) if keep_pictures else None
        self.events = Events(store.db, self.outbox, programs) if programs else None
        self._store = store
        self._arrivals = Arrivals(store.db)
        self._guests = Guests(store.db)
        self._records = Records(store.db, basis.tables)
        self._people = people
        self._basis = basis
        self._clock = clock
        self._channels = channels or {}
        self._ways = Route(store, self._channels)
        self._new_code = new_code

    def use(self, basis: Basis, people: People) -> None:
        """Answer from these from now on. The trenches are worked again with them as they are looked at."""
        self._basis, self._people = basis, people
        self._records = Records(self._store.db, basis.tables)

    def answer(self, message: Message, pictures: Sequence[Picture] = ()) -> Answered:
        """Answer a message. One that came before has the same answer again and changes nothing.

        The pictures that came with it change nothing in what it says; they are noted, to be fetched later.
        """
        begun = perf_counter()
        message = message.model_copy(update={"sent_at": self._clock.believed(message)})
        if (said := self._store.said(message)) is not None and said != message.text:
            # Not that text again, whatever its id says: it may tell of danger.
            other = blake2s(message.text.encode(), digest_size=6).hexdigest()
            message = message.model_copy(update={"id": f"{message.id[: MOST_ID - 13]}~{other}"})
        return self._earlier(message) or self._answer(message, begun, pictures)

    def sounds_dangerous(self, message: Message) -> bool:
        """Whether a text reads like danger, by either reader. Of a text alone: it needs no transaction."""
        person = self._people.find(message.sender)
        reading = read_from(message, person, self._people, self._basis.readers)().reading
        return bool(reading.hazards or reading.possible_hazard or reading.purpose == "stop")

    def take_piece(self, piece: SmsPart) -> Answered:
        """Answer a long text once its last piece is there; until then say that a part alone was not read. A
        part that sounds dangerous is answered as it stands: the rest may never come."""
        begun = perf_counter()
        part = piece.message.model_copy(update={"id": f"{piece.message.id}:part"})
        earlier = self._store.answered(part)
        whole = self._arrivals.piece(piece)
        if isinstance(whole, Message):
            return self.answer(whole)
        if self.sounds_dangerous(part):
            return self.answer(part)
        say = (
            self._basis.catalogs[self._language(part)]
            .say["part-only"]
            .format(number=piece.number, total=piece.total)
        )
        return earlier or self._put(
            self._partial(part, say if whole else ""), self._bare_context(part), begun
        )

    def tell_to_ring(self, by: Channel, sender: str, id: str, at: datetime) -> None:
        """Put into the outbox, for one of the crew, that a text could not be taken."""
        if self._people.find(sender):
            key = f"refused/{by.name}/{blake2s(f'{sender}/{id}'.encode(), digest_size=6).hexdigest()}"
            self.outbox.put(outbox.rows(key, Reply(to=sender, text=NO_ANSWER), by, ()), at)

    def take_receipt(self, channel: str, receipt: Receipt, now: datetime) -> None:
        """Note what became of a text sent before."""
        if not self.outbox.receive(channel, receipt, now):
            log.info("receipt for a text not known yet: channel=%s ref=%s", channel, receipt.ref)

    def _earlier(self, message: Message) -> Answered | None:
        if same := self._store.answered(message):
            return same
        channel = self._channels.get(message.channel)
        repeat = channel and self._arrivals.repeat_of(message, channel.repeat_s)
        return self._store.answered(message.model_copy(update={"id": repeat})) if repeat else None

    def _bare_context(self, message: Message) -> Context:
        """Who texts, from where and when: no more than what an answer to an error of ours needs."""
        known = self._people.find(message.sender)
        now = self._clock.now(message if known else None)
        guests = self._guests.all(now)
        people = self._people.joined_by(
            Person(guest.number, guest.name, "fitter", guest.site) for guest in guests if guest.until
        )
        person = people.find(message.sender)
        site = people.site(person.site) if person else None
        by = self._channels.get(message.channel)
        return Context(
            now=now,
            person=person,
            site=site,
            thread=None,
            trenches=self._records.open(site.name) if site else {},
            people=people,
            guests=guests,
            proven=by is None or by.proves_sender,
            to_number=by is None
            or by.to_number
            or not any(each.send_url for each in self._channels.values()),
        )

    def _context(self, message: Message, bare: Context) -> Context:
        site = bare.site
        return replace(
            bare,
            thread=self._store.thread(message.sender),
            closed=self._records.closed(site.name) if site else {},
            next_ref=self._records.next_ref(site.name) if site else "T1",
            code=self._new_code(),
            sketch_link=self._sketch_link(message.channel),
            overheard=() if bare.person else self._named(message.text),
        )

    def _named(self, text: str) -> tuple[Trench, ...]:
        """The open trenches of every site that a text names."""
        sites = dict.fromkeys([*(p.site for p in self._people), *(s.name for s in self._people.described)])
        found = (self._records.find(site, ref) for site in sites for ref in references(text))
        return tuple(trench for trench in found if trench and not trench.closed)

    def _sketch_link(self, channel: str) -> str:
        """Where the sketch of this exchange will be seen, on a channel that carries no pictures."""
        links = self.sketches.links
        if links is None or self._carries_pictures(channel):
            return ""
        return links.to(self._store.next_exchange(), datetime.now(UTC))

    def _carries_pictures(self, channel: str) -> bool:
        by = self._channels.get(channel)
        return by is not None and by.carries_pictures(linked=self.sketches.links is not None)

    def _answer(self, message: Message, begun: float, pictures: Sequence[Picture]) -> Answered:
        context = self._bare_context(message)
        try:
            with self._store.apart():
                context = self._context(message, context)
                turn = converse(
                    message, context, self._basis.tables, self._basis.readers, self._basis.catalogs
                )
                return self._put(turn, context, begun, pictures)
        except sqlite3.Error:
            raise
        except Exception as error:
            log.error("message %s of %s: no answer", message.id, message.channel, exc_info=error)
            turn = failed(
                message, error, context, self._basis.tables, self._basis.catalogs, self._language(message)
            )
            return self._put(turn, context, begun, pictures)

    def _language(self, message: Message) -> str:
        """The language in which its sender last texted, of those that the service speaks."""
        language = self._store.language(message.sender)
        return language if language in self._basis.catalogs else "en"

    def _put(self, turn: Turn, context: Context, begun: float, pictures: Sequence[Picture] = ()) -> Answered:
        now = datetime.now(UTC)
        took_us = round((perf_counter() - begun) * 1e6)
        events = [self._records.written(trench) for trench in turn.trenches]
        seals = [
            sealed(trench.site, trench.ref, trench.closed, told)
            for trench, told in zip(turn.trenches, events, strict=True)
        ]
        records = json.dumps(seals, ensure_ascii=False, separators=(",", ":"))
        answered = self._store.put(turn, context.person, context.site, now, took_us, records)
        if turn.guest:
            self._guests.put(turn.guest)
        for trench, told in zip(turn.trenches, events, strict=True):
            self._records.put(trench, answered.exchange, told)
        if self.pictures and context.person:  # of strangers none is asked for
            self.pictures.put(answered.exchange, turn.message, pictures, now)
        if self.events:
            about = (context.site.name if context.site else None, turn.trench)
            # By the trench's own site: somebody whom nobody knows has none.
            days = [(trench, shift(self._people.site(trench.site))) for trench in turn.trenches]
            self.events.of_turn(days, turn.alerts, answered.exchange, about, context.now, self._basis.tables)
        by = self._channels.get(turn.message.channel)
        if by:
            texts = [(alert, Reply(to=alert.to, text=alert.text)) for alert in turn.alerts]
            # Where no channel reaches somebody the text fails on this one, and the office sees that.
            alerts = [(alert, self._ways.to(text) or by) for alert, text in texts]
            picture = self._sketch(turn, context, answered.exchange, by, now)
            self.outbox.put(outbox.rows(str(answered.exchange), turn.reply, by, alerts, picture), now)
        return answered

    def _sketch(
        self, turn: Turn, context: Context, exchange: int, by: Channel, now: datetime
    ) -> outbox.QueuedText | None:
        """Draw and keep what the turn shows, for its link or as a text that carries it."""
        carried = self._carries_pictures(by.name)
        trench = turn.sketched
        if trench is None or context.site is None or not (carried or context.sketch_link):
            return None
        rail_m = self._basis.tables.kits[trench.kit].rail.length_m
        drawn = for_phone(trench, rail_m, turn.manner, context.now, shift(context.site).zone)
        self.sketches.put(exchange, drawn, now)
        if not carried:
            return None
        words = Reply(to=turn.reply.to, text=trench.ref)
        return outbox.QueuedText("", by.name, words, outbox.REPLY, sketch=exchange)

    def _partial(self, part: Message, say: str) -> Turn:
        return Turn(
            message=part,
            reading=Reading(),
            outcome=Unclear(why="part of a text"),
            reply=replies.to(part.sender, say),
            stamp=self._basis.tables.stamp,
        )
