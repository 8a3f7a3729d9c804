"""A trench on whose record everything is told, and a text put into that day: what becomes of entry.

A probe is a line of `cases/probes/*.jsonl`. Of its `kind`, "nonreport" and "honest" stand in place of the
report of `fact`, "hazard" and "after" follow a complete record, "ask" is the question itself, "chat" is about
no trench. Of `who`, F is a fitter, R another, S the supervisor, O the office, X somebody nobody knows.
"""

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from bot.clock import MessageClock
from bot.config.basis import Basis
from bot.config.people import People, PeopleFile
from bot.message import Message
from bot.service import Service
from bot.storage.records import Records
from bot.storage.turns import Store
from knowledge.record.trench import Trench

PROBES = Path(__file__).parents[1] / "cases" / "probes"
START = datetime(2027, 1, 4, 8, 0, tzinfo=UTC)
PEOPLE = {
    "F": ("+447700900001", "Fay", "fitter"),
    "S": ("+447700900002", "Sol", "supervisor"),
    "R": ("+447700900003", "Rae", "fitter"),
    "O": ("+447700900004", "Ola", "office"),
    "X": ("+447700900199", "", ""),
}
DAY = (
    ("sizing", "F", "T7 depth 1.6 width 0.9 length 6 firm clay"),
    ("services", "F", "T7 services located"),
    ("units", "F", "T7 all units set all at 40 bar"),
    ("gap below", "F", "T7 dug to 1.6"),
    ("ladder", "F", "T7 ladder in"),
    ("spoil", "F", "T7 spoil back 1.5m"),
    ("ends", "F", "T7 ends battered"),
    ("water", "F", "T7 no water"),
    ("air test", "F", "T7 air test ok"),
    ("inspection", "S", "T7 inspected ok"),
)
CODE = "730412"  # stands for the random code
ASK = "can they go in T7?"


@dataclass(frozen=True)
class Probe:
    """One text and what it must not, or must, do."""

    kind: str
    text: str
    who: str
    fact: str = ""
    harmless: str = ""  # why entry may stand after it, where it may


def probes(name: str) -> list[Probe]:
    """The probes of one file. Raises where it is missing or a line is not of this shape."""
    lines = (PROBES / f"{name}.jsonl").read_text(encoding="utf-8").splitlines()
    return [Probe(**{"fact": "", **json.loads(line)}) for line in lines]


@dataclass(frozen=True)
class Said:
    """What was answered to one text."""

    outcome: dict[str, Any]
    reply: str
    alerts: tuple[tuple[str, str], ...] = ()  # who else got a text, by their letter, and what

    @property
    def entry(self) -> str | None:
        return self.outcome.get("entry")


class Day:
    """A service with a record in memory and the hours of one day."""

    def __init__(
        self, basis: Basis, appointed_until: date | None = None, kit_examined_until: date | None = None
    ) -> None:
        rows = [
            {
                "number": number,
                "name": name,
                "role": role,
                "site": "Larch Street",
                "appointed_until": appointed_until,
            }
            for number, name, role in PEOPLE.values()
            if name
        ]
        site = {"name": "Larch Street", "kit_examined_until": kit_examined_until}
        people = People.of(PeopleFile.model_validate({"person": rows, "site": [site]}))
        self._store, self._basis, self._people = Store(":memory:"), basis, people
        self._service = Service(self._store, people, basis, MessageClock(), new_code=lambda: CODE)
        self._at, self._count = START, 0

    def again(self) -> "Day":
        """Another day that has gone as this one has so far."""
        day = object.__new__(Day)
        day._store, day._basis, day._people = Store(":memory:"), self._basis, self._people
        self._store.db.conn.backup(day._store.db.conn)
        day._service = Service(day._store, day._people, day._basis, MessageClock(), new_code=lambda: CODE)
        day._at, day._count = self._at, self._count
        return day

    def say(self, who: str, text: str, minutes: float = 2) -> Said:
        """Text it, so long after the last."""
        self._at += timedelta(minutes=minutes)
        self._count += 1
        message = Message(
            id=f"m{self._count}", channel="chat", sender=PEOPLE[who][0], text=text, sent_at=self._at,
            received_at=self._at,
        )  # fmt: skip
        with self._store.transaction():
            answered = self._service.answer(message)
        letters = {number: letter for letter, (number, *_) in PEOPLE.items()}
        alerts = json.loads(self._store.alerts(answered.exchange))
        told = tuple((letters[alert["to"]], alert["text"]) for alert in alerts)
        return Said(json.loads(answered.outcome), answered.reply, told)

    @property
    def now(self) -> datetime:
        """When the last text was sent."""
        return self._at

    def find(self, ref: str) -> Trench | None:
        """The record of a trench as it stands, open or closed."""
        with self._store.transaction():
            return Records(self._store.db, self._basis.tables).find("Larch Street", ref)

    def trench(self, ref: str) -> Trench:
        """The record of a trench that there is."""
        found = self.find(ref)
        assert found is not None
        return found

    def meant(self, who: str, text: str, yes: str = "YES") -> Said:
        """Text it, and answer YES where that is asked."""
        said = self.say(who, text)
        return self.say(who, yes) if re.search(rf"\b{yes}\b", said.reply) else said

    def close(self) -> None:
        self._store.close()


def put(
    probe: Probe, basis: Basis, day: Sequence[tuple[str, str, str]] = DAY, ask: str = ASK, yes: str = "YES"
) -> tuple[str | None, str, bool]:
    """What entry is after a probe in its day, the reply to it, and whether a YES was needed."""
    told_by_it = probe.kind in ("nonreport", "honest")
    place = next((n for n, (fact, *_) in enumerate(day) if told_by_it and fact == probe.fact), len(day))
    talk, answered, asked = _so_far(basis, tuple(day), place, yes).again(), None, False
    try:
        if place < len(day):
            answered = talk.say(probe.who, probe.text)
            if probe.kind == "honest" and re.search(rf"\b{yes}\b", answered.reply):
                asked = True
                talk.say(probe.who, yes)
        for _, who, text in day[place + 1 :]:
            talk.meant(who, text, yes)
        if probe.kind in ("after", "hazard", "chat"):
            answered = talk.say(probe.who, probe.text)
        last = talk.say(probe.who, probe.text) if probe.kind == "ask" else talk.say("S", ask)
        return last.entry, (answered or last).reply, asked
    finally:
        talk.close()


_DAYS: dict[tuple[int, tuple[tuple[str, str, str], ...], int, str], tuple[Basis, Day]] = {}


def _so_far(basis: Basis, day: tuple[tuple[str, str, str], ...], place: int, yes: str) -> Day:
    """The day up to a place in it, lived once; a probe goes on with a copy of it."""
    name = (id(basis), day, place, yes)
    if name not in _DAYS:
        talk = Day(basis)
        for _, who, text in day[:place]:
            talk.meant(who, text, yes)
        _DAYS[name] = (basis, talk)  # with the basis, so that no other can have its number
    return _DAYS[name][1]


def wrong(probe: Probe, entry: str | None) -> bool:
    """Whether entry is not what it must be after this probe."""
    return (entry == "may") != (probe.kind in ("honest", "ask", "chat"))


def each(names: Sequence[str]) -> Iterator[Probe]:
    """The probes of several files."""
    for name in names:
        yield from probes(name)
