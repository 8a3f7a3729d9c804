"""What happens at the trenches, told to programs of the company's own as signed Standard Webhooks.

An event names its trench and never a person: no number, no name, no words. It is worked from the records, so
that the same fact has the same id and goes once, and it waits in the outbox behind every text to a person.
"""

import hashlib
import logging
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from hashlib import blake2s
from typing import Literal
from urllib.parse import urlsplit

from pydantic import AwareDatetime, Field, SecretStr
from sqlite_utils import Database

from bot.channels.base import Image, SendRequest, Sent, sent_by_status
from bot.channels.json import signed_post
from bot.delivery.outbox import EVENT, Outbox, QueuedText
from bot.message import Alert, Reply
from bot.storage.refused import RefusedText
from bot.storage.turns import moment
from knowledge.entry.due import due
from knowledge.entry.may_enter import allowance, entry
from knowledge.reading import Frozen
from knowledge.record.shift import Shift
from knowledge.record.trench import Trench
from knowledge.tables.load import Tables

log = logging.getLogger("trenchword.events")
CHANNEL = "events"
EventType = Literal[
    "trench.hazard",
    "trench.stopped",
    "trench.let_in",
    "trench.leave_ended",
    "trench.inspection_due",
    "text.refused",
]
EVENT_TYPES: dict[EventType, str] = {
    "trench.hazard": "A hazard was reported, or a text that may be one: everyone out.",
    "trench.stopped": "Nobody in: somebody said stop, or no shores will do for the trench as told.",
    "trench.let_in": "The competent person let people in, until `until` at the latest. It is no permission.",
    "trench.leave_ended": "People are no longer let in: it lapsed, something changed, or it was closed.",
    "trench.inspection_due": "The trench waits for an inspection.",
    "text.refused": "A text could not be taken: its sender stands on the office's first page.",
}


class EventData(Frozen):
    """What happened, where. `trench` is None where the text named none; `exchange` is its number on the
    log, None where time alone brought it."""

    site: str | None = None
    trench: str | None = None
    exchange: int | None = None
    hazard: str | None = Field(default=None, description="its name, or `possible`; of trench.hazard")
    refused: bool | None = Field(default=None, description="no shores will do; of trench.stopped")
    until: AwareDatetime | None = Field(default=None, description="at the latest; of trench.let_in")
    channel: str | None = Field(default=None, description="of text.refused")
    why: str | None = Field(default=None, description="of text.refused")


class ProgramEvent(Frozen):
    """One event as it is sent; `timestamp` is when it happened. The header webhook-id is the same at every
    try, and to every program."""

    type: EventType
    timestamp: AwareDatetime
    data: EventData


class Programs:
    """The company's own programs: where each event goes, signed. Only the host of a url is ever shown or
    kept, since the rest may hold a secret."""

    def __init__(self, urls: Iterable[str], secrets: tuple[SecretStr, ...]) -> None:
        self._urls = {_shown(url): url for url in urls}
        self._secrets = secrets

    @property
    def names(self) -> tuple[str, ...]:
        """What each is called here."""
        return tuple(self._urls)

    def reaches(self, number: str) -> bool:
        """Whether it is still one of them."""
        return number in self._urls

    def request(self, reply: Reply, key: str, at: datetime) -> SendRequest:
        """The post of one event."""
        return signed_post(self._urls[reply.to], key.split("/")[1], reply.text.encode(), self._secrets, at)

    def picture_request(self, reply: Reply, image: Image) -> None:
        """No event carries a picture."""

    def sent(self, status: int, headers: Mapping[str, str], body: bytes) -> Sent:
        """By the status alone."""
        return sent_by_status(status, headers, b"")


class Events:
    """Puts events into the outbox. Every method runs inside the store's open transaction.

    No error of theirs costs a crew its answer or its reminder: it is logged, and nothing of it is kept.
    """

    def __init__(self, db: Database, outbox: Outbox, programs: Programs) -> None:
        self._db = db
        self._outbox = outbox
        self.programs = programs

    def of_turn(
        self,
        trenches: Iterable[tuple[Trench, Shift]],
        alerts: Iterable[Alert],
        exchange: int,
        about: tuple[str | None, str | None],
        now: datetime,
        tables: Tables,
    ) -> None:
        """What one exchange changed. `about` is its site and trench, as far as they are known."""
        with self._apart():
            known = False
            for trench, day in trenches:
                known |= bool(trench.now.hazards or trench.now.possible or trench.now.stopped)
                self._of_trench(trench, now, tables, day, exchange)
            if not known and any(alert.urgent and alert.why == "hazard" for alert in alerts):
                site, ref = about
                data = EventData(site=site, trench=ref, exchange=exchange, hazard="possible")
                self._put("trench.hazard", now, data, str(exchange))

    def of_site(self, trenches: Iterable[Trench], now: datetime, tables: Tables, day: Shift) -> None:
        """What came with time alone: leave that lapsed, inspections that fell due."""
        with self._apart():
            open_ = {trench.ref: trench for trench in trenches}
            for trench in open_.values():
                self._of_trench(trench, now, tables, day)
            for each in due(open_.values(), now, tables, day):
                if each.kind == "inspection":
                    data = EventData(site=open_[each.trench].site, trench=each.trench)
                    self._put("trench.inspection_due", each.at, data, each.key)

    def of_refused(self, ones: Iterable[RefusedText]) -> None:
        """Texts that could not be taken. A flood from one sender is one event an hour."""
        with self._apart():
            for one in ones:
                name = f"{one.channel}/{one.sender}/{one.why}/{one.at:%Y%m%d%H}"
                self._put("text.refused", one.at, EventData(channel=one.channel, why=one.why), name)

    @contextmanager
    def _apart(self) -> Iterator[None]:
        try:
            with self._db.atomic():
                yield
        except sqlite3.Error:
            raise
        except Exception:
            log.exception("events")

    def _of_trench(
        self, trench: Trench, now: datetime, tables: Tables, day: Shift, exchange: int | None = None
    ) -> None:
        """How a trench stands, as far as programs have not been told."""
        state = trench.now
        where = EventData(site=trench.site, trench=trench.ref, exchange=exchange)
        dangers = [(each.kind, each.said) for each in state.hazards]
        dangers += [("possible", each.said) for each in state.possible]
        for kind, said in dangers:
            self._put("trench.hazard", said.at, where.model_copy(update={"hazard": kind}), said.event)
        for word in state.stopped:
            self._put(
                "trench.stopped", word.said.at, where.model_copy(update={"refused": False}), word.said.event
            )
        if state.refused and (last := next((e for e in reversed(trench.events) if e.stopped), None)):
            self._put("trench.stopped", last.at, where.model_copy(update={"refused": True}), last.id)
        self._leave(trench, where, now, tables, day)

    def _leave(self, trench: Trench, where: EventData, now: datetime, tables: Tables, day: Shift) -> None:
        """Let in, or no longer: where that differs from what was told last."""
        name = (trench.site, trench.ref)
        given = None if trench.closed else allowance(trench, now, tables, day)
        row = self._db.execute("SELECT at FROM told_leaves WHERE site = ? AND trench = ?", name).fetchone()
        told = row[0] if row else None
        at = moment(given.at) if given else None
        if told == at:
            return
        if told:
            self._put("trench.leave_ended", now, where, f"{told} {moment(now)}")
            self._db.execute("DELETE FROM told_leaves WHERE site = ? AND trench = ?", name)
        if given:
            let_in = where.model_copy(update={"until": entry(trench, now, tables, day).until})
            self._put("trench.let_in", given.at, let_in, f"{at} {moment(now)}")
            self._db.execute("INSERT INTO told_leaves (site, trench, at) VALUES (?, ?, ?)", (*name, at))

    def _put(self, type_: EventType, at: datetime, data: EventData, name: str) -> None:
        """Let an event wait for every program. `name` is its own among those of its type and trench."""
        fact = f"{type_}/{data.site}/{data.trench}/{data.hazard}/{name}"
        id_ = hashlib.sha256(fact.encode()).hexdigest()[:32]
        text = ProgramEvent(type=type_, timestamp=at, data=data).model_dump_json(exclude_none=True)
        rows = [
            QueuedText(f"event/{id_}/{_digest(to)}", CHANNEL, Reply(to=to, text=text), EVENT, type_)
            for to in self.programs.names
        ]
        self._outbox.put(rows, datetime.now(UTC))


def _shown(url: str) -> str:
    """A url by its host, and a digest that tells two of one host apart."""
    return f"{urlsplit(url).netloc.rpartition('@')[2]} ({_digest(url)})"


def _digest(text: str) -> str:
    return blake2s(text.encode(), digest_size=4).hexdigest()
