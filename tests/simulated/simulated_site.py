"""One site lived through by chance and by a virtual clock, on the real service and the real store.

At every step it is held against a plain model of its trenches. The same seed lives the same days.

Crews write honest, loose and false reports; the gateway delays, doubles, reorders and loses them; the process
is killed between any two statements and started again on what it left; the office changes figures.
"""

import heapq
import json
import re
import shutil
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

import site_texts
from complete_day import PEOPLE
from plain_trench import Figures, Text, in_order, in_the_way, leave_stands, shift_of, standing
from site_texts import Written
from talk import SetClock

from bot.channels.base import Channel
from bot.channels.json import Json
from bot.channels.kannel import Kannel
from bot.config.basis import Basis
from bot.config.in_force import InForce
from bot.config.people import People, PeopleFile
from bot.dialogue.answers import moved, size, wrong_hole
from bot.dialogue.context import shift
from bot.message import Message, event_name
from bot.service import Service
from bot.storage import log
from bot.storage.records import Records
from bot.storage.turns import START, Store, body_of, hash_of
from knowledge.entry.may_enter import Entry, allowance, entry
from knowledge.outcome import Sized
from knowledge.record.trench import Trench

SITE = "bar"
REFS = ("T1", "T2")
MONDAY = datetime(2027, 1, 4, 7, 5, tzinfo=UTC)
TEXTS_A_DAY = 45
NOBODY = "http://127.0.0.1:1"
AIR, PAUSE = "lasts = { value = 4, unit", "[figure.pause]\nvalue = 8"
OFFICE: tuple[
    tuple[dict[str, str], Figures], ...
] = (  # what it changes in `entry.toml`, and the figures then
    ({}, Figures()),
    ({AIR: AIR.replace("4", "2")}, Figures(air_h=2.0)),
    ({PAUSE: PAUSE.replace("8", "5")}, Figures(pause_h=5.0)),
)
ROWS = [
    {"number": number, "name": name, "role": role, "site": SITE}
    for number, name, role in PEOPLE.values()
    if name
]
CODE_LIFE = timedelta(minutes=15)
CODE = re.compile(r"\b(\d{6})\b")
CLOSING = ("stop", "open", "soft", "undone", "none")  # of a trench on no record they close what it may be of
TELLING = ("fact", "units", "gauges", "dug", "water", "spoil", "size", "undone", "hazard")
PROPOSED_AS = {
    "services": "services located",
    "ladder": "ladder",
    "ends": "ends",
    "spoil": "spoil",
    "water": "dry",
    "dug": "dug to",
    "units": "units set",
}
BAD_FOR_ENTRY = (
    "undone",
    "gauge",
    "ends open",
    "moved",
    "fewer",
    "replaced",
    "parked",
    "soft",
    "open",
    "stop",
)


class Remembered:
    """Readers that read a text once: they are pure, and crews say the same things every day."""

    def __init__(self, readers: Any) -> None:
        self._readers = readers
        self.read = lru_cache(50_000)(readers.read)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._readers, name)


def bases() -> list[tuple[Basis, Figures]]:
    """What the office may have in force, read once for all sites."""
    came = Basis.load()
    came = replace(came, readers=Remembered(came.readers))  # type: ignore[arg-type]
    in_force = InForce.load(None, came=came)
    made = []
    for changes, figures in OFFICE:
        text = in_force.texts["entry.toml"]
        for old, new in changes.items():
            assert old in text, old
            text = text.replace(old, new)
        made.append((in_force.with_text("entry.toml", text).basis if changes else came, figures))
    return made


@dataclass(order=True)
class Arrival:
    """A text on its way, or once more."""

    at: datetime
    number: int
    who: str = field(compare=False)
    written: Written = field(compare=False)
    message: Message = field(compare=False)


@dataclass(frozen=True)
class SentCode:
    """A code on the supervisor's phone: of which trench, since when, and what it opens if not entry."""

    digits: str
    ref: str
    at: datetime
    opens: Text | None


class Broken(AssertionError):  # noqa: N818 - it says what became of a rule
    """Something that must never be so was so."""


class SimulatedSite:
    """A site of one seed. `live` days of it; raises Broken where something is held no more."""

    def __init__(
        self,
        seed: int,
        bases: list[tuple[Basis, Figures]],
        folder: Path,
        show: Callable[[str], None] | None = None,
    ) -> None:
        self.seed, self.chance, self.bases, self.folder, self.show = seed, Random(seed), bases, folder, show
        self.people = People.of(PeopleFile.model_validate({"person": ROWS}))
        self.site = self.people.site(SITE)
        self.shift = shift(self.site)
        self.by_sms = self.chance.random() < 0.4
        self.channel = "kannel" if self.by_sms else "json"
        self.channels: Mapping[str, Channel] = {
            "kannel": Kannel(secrets="key", send_url=NOBODY),  # type: ignore[arg-type]
            "json": Json(),
        }
        self.depths = {ref: self.chance.choice(list(site_texts.DEPTHS)) for ref in REFS}
        self.owners = dict(zip(REFS, ("F", "R"), strict=True))
        self.clock = SetClock(MONDAY)
        self.basis, self.figures = bases[0]
        self.runs = 0
        self.looked: dict[tuple[str, str, datetime], Any] = {}  # since the last text: nothing else changes it
        self.store, self.service = self._started(self.folder / f"{seed}.0.sqlite")
        self.texts: list[Text] = []  # what is on the log, as it was meant
        self.log: list[tuple[str, str, str]] = []  # sender, words, reply, exchange by exchange
        self.last_hash = START
        self.loose: list[tuple[Written, Text]] = []  # not counted, but a YES would take them
        self.code: SentCode | None = None  # the last that went to the supervisor's number
        self.spoke: dict[str, str] = {}
        self.plans: dict[str, dict[str, Any] | None] = {}
        self.way: list[Arrival] = []
        self.written = self.steps = 0
        self.seen = {"may": 0, "leave": 0, "kills": 0, "alarms": 0}

    # ------------------------------------------------------------------ the process

    def _started(self, file: Path) -> tuple[Store, Service]:
        template = self.folder / "template.sqlite"
        if not template.exists():
            Store(template).close()
        if not file.exists():
            shutil.copy(template, file)
        self.looked.clear()
        store = Store(file)
        codes = Random(f"{self.seed} {self.runs}")
        service = Service(
            store,
            self.people,
            self.basis,
            self.clock,
            self.channels,
            new_code=lambda: f"{codes.randrange(10**6):06}",
        )
        return store, service

    def _killed(self, left: Path) -> None:
        """The process is gone: another one starts on the files that it left."""
        before = {ref: self.trench(ref) for ref in REFS}
        self._restarted(left)
        for ref, trench in before.items():
            now = self.trench(ref)
            self.hold((now and now.events) == (trench and trench.events), f"{ref} is another after a kill")
            self.hold((now and now.now) == (trench and trench.now), f"{ref} stands otherwise after a kill")
        self.logged()

    def _restarted(self, left: Path) -> None:
        """Another process, on the files that one left behind."""
        old = self.folder / f"{self.seed}.{self.runs}.sqlite"
        self.store.db.close()
        for each in self.folder.glob(f"{old.name}*"):
            each.unlink()
        self.runs += 1
        self.seen["kills"] += 1
        self.store, self.service = self._started(left)

    def _files_left(self) -> Path:
        """What a process that is killed now leaves on the disk."""
        old = self.folder / f"{self.seed}.{self.runs}.sqlite"
        left = self.folder / f"{self.seed}.{self.runs + 1}.sqlite"
        for end in ("", "-wal", "-shm"):
            if (file := old.with_name(old.name + end)).exists():
                shutil.copy(file, left.with_name(left.name + end))
        return left

    def _answer(self, message: Message) -> Any:
        self.looked.clear()
        with self.store.transaction():
            return self.service.answer(message)

    def _killed_within(self, message: Message, statement: int) -> bool:
        """Kill it before that statement of the turn; False where the turn has no so many."""
        done, left = 0, None

        def count(_: str) -> None:
            nonlocal done, left
            done += 1
            if done == statement:
                left = self._files_left()

        before = {ref: self.trench(ref) for ref in REFS}
        connection: sqlite3.Connection = self.store.db.conn
        connection.set_trace_callback(count)
        try:
            self._answer(message)
        finally:
            connection.set_trace_callback(None)
        if left is None:
            return False
        self._restarted(left)
        for ref, trench in before.items():
            self.hold(self.trench(ref) == trench, f"half a turn is on the record of {ref} after a kill")
        self.whole()
        return True

    # ------------------------------------------------------------------ what is held

    def hold(self, so: bool, why: str) -> None:
        if not so:
            raise Broken(f"seed {self.seed}, step {self.steps}, {self.clock.at:%a %H:%M:%S}: {why}")

    def trench(self, ref: str) -> Trench | None:
        found: Trench | None = self._once("record", ref, lambda: self.service._records.find(SITE, ref))
        return found

    def _once(self, what: str, ref: str, look: Callable[[], Any]) -> Any:
        key = what, ref, self.clock.at
        if key not in self.looked:
            self.looked[key] = look()
        return self.looked[key]

    def stands(self, ref: str) -> tuple[Entry | None, bool]:
        """What the service says of entry now, and whether a leave is in force."""
        trench = self.trench(ref)
        if trench is None:
            return None, False
        return self._once("entry", ref, lambda: self._entry(trench)), self.left(ref)

    def _entry(self, trench: Trench) -> Entry:
        return entry(trench, self.clock.at, self.basis.tables, self.shift)

    def left(self, ref: str) -> bool:
        """Whether a leave is in force."""
        trench = self.trench(ref)
        rules = self.basis.tables
        return trench is not None and bool(
            self._once("leave", ref, lambda: allowance(trench, self.clock.at, rules, self.shift))
        )

    def judged(self) -> None:
        """No `may` and no leave but on good grounds; heads as counted."""
        for ref in REFS:
            trench = self.trench(ref)
            if trench is None:
                continue
            found, leave = self.stands(ref)
            of = in_order(self.texts, ref)
            state = standing(of)
            if found and found.entry == "may":
                self.seen["may"] += 1
                why = in_the_way(state, self.clock.at, self.figures)
                self.hold(not why, f"{ref} may be entered, though {why}")
                end = shift_of(self.clock.at)[1]
                self.hold(
                    found.until is not None and self.clock.at < found.until <= end,
                    f"{ref} may, until {found.until}",
                )
            if leave:
                self.seen["leave"] += 1
                not_so = leave_stands(of, self.clock.at, self.figures)
                self.hold(not not_so, f"{ref} has a leave in force: {not_so}")
            heads = trench.now.heads
            self.hold(heads >= 0, f"{ref} has {heads} heads")
            self.hold(
                bool(trench.now.apart) or heads == state.heads,
                f"{ref} has {heads} in, {state.heads} were told",
            )

    def _said(self, outcome: dict[str, Any]) -> None:
        """What an answer says of entry is so as well."""
        if outcome["kind"] != "entry" or outcome["entry"] != "may":
            return
        of = in_order(self.texts, outcome["trench"])
        why = in_the_way(standing(of), self.clock.at, self.figures)
        self.hold(not why, f"{outcome['trench']} was said to be clear, though {why}")
        if outcome.get("allowed_by"):
            not_so = leave_stands(of, self.clock.at, self.figures)
            self.hold(not not_so, f"{outcome['trench']} was said to be allowed: {not_so}")

    def whole(self) -> None:
        """All that was answered is on the log once, in its order, and the chain and the records are whole."""
        self.logged()
        again = Records(self.store.db, self.basis.tables)
        for ref in REFS:
            self.hold(
                again.find(SITE, ref) == self.trench(ref), f"{ref} is another when worked again from the disk"
            )

    def logged(self) -> None:
        """All that was answered is on the log once, in its order, and the chain is whole."""
        check = log.verify(self.store.db)
        self.hold(check.broken_at is None, f"the chain is broken at {check.broken_at}: {check.why}")
        rows = self.store.db.execute("SELECT sender, text, reply FROM turns ORDER BY exchange").fetchall()
        self.hold([tuple(row) for row in rows] == self.log, "the log is not what was answered")

    def _linked(self, exchange: int) -> None:
        """The newest turn hangs on the one before it."""
        (row,) = self.store.db.query("SELECT * FROM turns WHERE exchange = ?", (exchange,))
        self.hold(row["previous"] == self.last_hash, "a turn hangs on another than the one before it")
        self.hold(row["body"] == body_of(row) and row["hash"] == hash_of(row), "a turn's hash is not its own")
        self.last_hash = row["hash"]

    def _alarmed(self, exchange: int, who: str, refs: set[str]) -> None:
        """Those who must hear of danger are told by texts that are on the disk."""
        told = {
            to
            for (to,) in self.store.db.execute(
                "SELECT recipient FROM outbox WHERE rank = 0 AND substr(key, 1, ?) = ?",
                (len(f"{exchange}-"), f"{exchange}-"),
            )
        }
        works = {
            text.number
            for text in self.texts
            if text.ref in refs and text.kind == "fact" and text.role == "fitter"
        }
        must = ({PEOPLE["S"][0]} | works) - {PEOPLE[who][0]}
        self.seen["alarms"] += 1
        self.hold(must <= told, f"danger was told, and {sorted(must - told)} were sent nothing")

    # ------------------------------------------------------------------ one text

    def given(self, arrival: Arrival) -> None:
        """A text comes in."""
        self.steps += 1
        self.clock.at = max(self.clock.at, arrival.at)
        message = arrival.message.model_copy(update={"received_at": self.clock.at})
        if self.chance.random() < 0.02:
            statement = self.chance.randint(1, 40)
            if self._killed_within(message, statement):
                self.say(f"killed before statement {statement} of {message.text!r}")
                if self.chance.random() < 0.7:  # the gateway had no answer
                    self.send_again(arrival)
                return
        leaves = {ref: self.left(ref) for ref in REFS}
        open_before = set(self.service._records.open(SITE))
        waiting = self._outbox()
        answered = self._answer(message)
        said = f"{arrival.who} #{answered.exchange} {message.text!r}, sent {message.sent_at:%H:%M}"
        self.say(f"{said} -> {answered.reply[:70]!r}")
        if answered.exchange <= len(self.log):
            sender, words, reply = self.log[answered.exchange - 1]
            same = (message.sender, message.text, answered.reply) == (sender, words, reply)
            self.hold(same, f"{message.text!r} was answered as if it were {words!r}")
            self.hold(self._outbox() == waiting, "a text that came twice sent something twice")
        else:
            self.hold(answered.exchange == len(self.log) + 1, "an exchange is left out")
            self.log.append((message.sender, message.text, answered.reply))
            self._linked(answered.exchange)
            self._taken(arrival, message, answered, open_before, leaves)
        self.judged()
        if self.chance.random() < 0.01:
            self.say("killed")
            self._killed(self._files_left())

    def _outbox(self) -> int:
        return int(self.store.db.execute("SELECT count(*) FROM outbox").fetchone()[0])

    def _taken(
        self,
        arrival: Arrival,
        message: Message,
        answered: Any,
        open_before: set[str],
        leaves: dict[str, bool],
    ) -> None:
        """What a new text means, once it is answered; and that it counts where it belongs, and once."""
        written, who = arrival.written, arrival.who
        outcome = json.loads(answered.outcome)
        self.hold(outcome["kind"] != "failed", f"{message.text!r} has no answer")
        records, id = self.store.db.execute(
            "SELECT records, message_id FROM turns WHERE exchange = ?", (answered.exchange,)
        ).fetchone()
        message = message.model_copy(update={"id": id})  # another, where its own had been another text's
        changed = {ref for _, ref, _, _ in json.loads(records)}
        self._where(arrival, message, outcome, changed, open_before)
        ref = written.ref
        text = Text(
            id=event_name(message.channel, message.sender, message.id),
            number=message.sender,
            role=PEOPLE[who][2] or "office",
            ref=ref,
            kind=written.kind,
            value=written.value,
            sent=min(self.clock.believed(message), self.clock.at),
            received=self.clock.at,
            came=answered.exchange,
            proven=not self.by_sms,
        )
        self._meant(who, written, text, outcome, changed, open_before, message)
        self._planned(written, text, changed)
        self._code_sent(answered.exchange, text, outcome)
        self._said(outcome)
        if written.kind == "hazard" and (changed or open_before):
            self.hold(bool(changed), f"{message.text!r} is on no record")
            self._alarmed(answered.exchange, who, changed)
        for ref in REFS:
            if leaves[ref] and not self.left(ref) and not (self.trench(ref) and self.trench(ref).closed):  # type: ignore[union-attr]
                self._alarmed_of_leave(answered.exchange, ref, written)

    def _alarmed_of_leave(self, exchange: int, ref: str, written: Written) -> None:
        if written.kind in ("leave", "open", "soft", "none"):  # another leave; or one that only sleeps
            return
        found = self.store.db.execute(
            "SELECT count(*) FROM outbox WHERE rank = 0 AND substr(key, 1, ?) = ?",
            (len(f"{exchange}-"), f"{exchange}-"),
        ).fetchone()
        self.hold(found[0] > 0, f"the leave of {ref} ended, and nobody was told")

    def _where(
        self,
        arrival: Arrival,
        message: Message,
        outcome: dict[str, Any],
        changed: set[str],
        open_before: set[str],
    ) -> None:
        """It stands on the trench that it is of, once, and on no other."""
        written = arrival.written
        named = set(re.findall(r"\bT\d\b", message.text))
        if named and (written.kind not in CLOSING or written.ref in open_before):
            self.hold(changed <= named, f"{message.text!r} changed {sorted(changed)}")
        elif written.kind in ("fact", "water", "units", "gauges") and outcome["kind"] == "noted":
            last = self.spoke.get(arrival.who)
            right = {last} if last in open_before else open_before if len(open_before) == 1 else set()
            self.hold(
                changed <= right,
                f"{message.text!r} changed {sorted(changed)}, it is of {sorted(map(str, right))}",
            )
        name = event_name(message.channel, message.sender, message.id)
        for ref in changed:
            trench = self.trench(ref)
            ids = [each.id for each in trench.events if each.id.split("/")[0] == name] if trench else []
            self.hold(0 < len(ids) == len(set(ids)), f"{message.text!r} is {len(ids)} times on {ref}")
        if (
            written.kind in ("fact", "units", "dug", "water", "spoil", "gauges", "several")
            and outcome["kind"] == "noted"
            and named
        ):
            self.hold(changed == named, f"{message.text!r} was noted, and is on {sorted(changed)}")

    def _meant(
        self,
        who: str,
        written: Written,
        text: Text,
        outcome: dict[str, Any],
        changed: set[str],
        open_before: set[str],
        message: Message,
    ) -> None:
        kind, ref = written.kind, written.ref
        if ref is None and kind not in ("hazard", "yes", "leave"):
            ref = next(iter(changed)) if len(changed) == 1 else None
            text = replace(text, ref=ref)
        if kind in BAD_FOR_ENTRY and ref not in open_before:
            kind = "none"  # there is nothing that it could close
        if kind == "size":
            sized = outcome["kind"] == "sized"
            plan = Sized.model_validate(outcome) if sized else None
            self.texts.append(replace(text, kind="size" if sized else "refused", value=_plan(plan)))
        elif kind == "hazard":
            self.texts += [replace(text, ref=each) for each in sorted(changed)]
        elif kind == "close":
            closed = outcome["kind"] == "told" and outcome.get("about") == "close"
            self.texts.append(replace(text, kind="closed" if closed else "none"))
        elif kind == "ignore":  # of each trench where something of its sender was open
            self.texts += [replace(text, ref=each) for each in sorted(changed)]
        elif kind == "heads":
            self.texts.append(replace(text, kind="heads" if ref in changed else "none"))
        elif kind == "moved":  # a run of another length has another plan
            now = self.trench(str(ref))
            self.texts.append(replace(text, value=_plan(now.now.plan if now else None)))
        elif kind == "yes":
            if outcome["kind"] == "noted":
                self._yes(text)
        elif kind == "leave":
            self._code(text, message, outcome)
        elif kind == "not at":
            self._moved(text, written.value, changed, outcome)
        elif written.fact == "units" and ref in changed and self._all_set(str(ref)):
            self.texts.append(replace(text, kind="units set"))  # so they are, at whatever pressure
        elif kind == "several":
            told = written.value if outcome["kind"] in ("noted", "sized") else ()
            self.texts += [replace(text, kind=one, value=value) for one, value in told]
        elif kind == "fact" and outcome.get("proposed"):  # honest, and yet a YES is wanted
            self.loose.append((replace(written, fact=written.value), text))
            self.texts.append(replace(text, kind="none"))
        else:
            self.texts.append(replace(text, kind=kind))
        if kind == "soft":  # what it seems to report as well is asked about
            proposed = ", ".join(outcome.get("proposed", ()))
            facts = [fact for fact, words in PROPOSED_AS.items() if words in proposed]
            self.loose += [(replace(written, fact=fact), text) for fact in facts]
        if written.fact and ref:
            self.loose.append((written, text))
        named = re.search(r"\bT\d\b", message.text)
        if named and named[0] in open_before | changed:
            self.spoke[who] = named[0]
        elif kind == "yes" and len(changed) == 1:  # it was of what was asked about that trench
            self.spoke[who] = next(iter(changed))

    def _all_set(self, ref: str) -> bool:
        trench = self.trench(ref)
        return bool(trench and trench.now.shores.complete)

    def _planned(self, written: Written, text: Text, changed: set[str]) -> None:
        """ "planned depth 1.6" reports nothing, and is a plan; so may any text be that brings new figures."""
        for ref in sorted(changed):
            trench = self.trench(ref)
            plan = _plan(trench.now.plan) if trench else None
            known, self.plans[ref] = self.plans.get(ref), plan
            if plan and plan != known and written.kind not in ("size", "moved", "not at"):
                self.texts.append(replace(text, ref=ref, kind="planned", value=plan, id=f"{text.id}/plan"))

    def _yes(self, text: Text) -> None:
        """A YES may take what its sender was asked about lately, unless the trench got worse since."""
        for written, asked in self.loose:
            since = [one for one in self.texts if one.ref == asked.ref and one.came > asked.came]
            void = any(one.kind in ("hazard", "stop", "undone") for one in since)
            late = text.sent - asked.received > timedelta(minutes=15)
            if (
                asked.number == text.number
                and not void
                and not late
                and written.fact not in ("inspected", "air test")
            ):
                fact = written.fact
                value = {"dug": self.depths[str(asked.ref)], "water": "dry"}.get(fact, fact)
                kind = fact if fact in ("units", "dug", "water", "spoil") else "fact"
                value = None if fact == "spoil" else value
                self.texts.append(
                    replace(text, ref=asked.ref, kind=kind, value=value, id=f"{text.id}/{fact}")
                )

    def _code(self, text: Text, message: Message, outcome: dict[str, Any]) -> None:
        """The code that went to the supervisor's number has come back from it in time, or something else has;
        any try at it ends it."""
        sent, self.code = self.code, None if text.role == "supervisor" else self.code
        tried = re.findall(r"\d{6}", message.text)
        if text.role != "supervisor" or sent is None or tried != [sent.digits]:
            return
        if self.clock.at - sent.at > CODE_LIFE or not re.match(sent.ref, message.text):
            return
        if sent.opens is None:
            if outcome.get("entry") == "may":
                self.texts.append(replace(text, value=self.figures))
        else:
            came = {"came": text.came, "received": text.received, "proven": True, "id": text.id}
            self.texts.append(replace(sent.opens, **came))

    def _code_sent(self, exchange: int, text: Text, outcome: dict[str, Any]) -> None:
        """Note the code that this turn sent to the supervisor's number, and what it opens."""
        row = self.store.db.execute(
            "SELECT text FROM outbox WHERE why = 'code' AND recipient = ? AND substr(key, 1, ?) = ?",
            (PEOPLE["S"][0], len(f"{exchange}-"), f"{exchange}-"),
        ).fetchone()
        if row is None:
            return
        found, ref = CODE.search(row[0]), re.search(r"\bT\d\b", row[0])
        assert found and ref, row[0]
        opens = text if outcome.get("why") == "a code is needed" else None
        self.code = SentCode(found[1], ref[0], self.clock.at, opens)

    def _moved(self, text: Text, to: str, changed: set[str], outcome: dict[str, Any]) -> None:
        """ "That was T2 not T1": the service says which text it took back, and that is the sender's last."""
        trench = self.trench(str(text.ref))
        last = next((each for each in trench.events if each.id == text.id), None) if trench else None
        gone = last.withdraws if last else ()
        self.texts.append(replace(text, kind="taken back" if gone else "none", of=gone))
        for one in [each for each in self.texts if each.id in gone and each.ref == text.ref]:
            self.hold(one.number == text.number, "somebody took back what another told")
            later = [
                each for each in self.texts
                if each.number == text.number and each.ref == text.ref and one.came < each.came < text.came
                and "/" not in each.id  # what a YES may have taken
                and text.sent - each.sent <= timedelta(hours=1)  # of what says it is older none is meant
                and each.kind in TELLING
            ]  # fmt: skip
            self.hold(not later, f"{one.id} was taken back, which was not the last")
            if to in changed and outcome["kind"] != "noted":  # held there until it is told anew
                self.texts.append(replace(text, ref=to, kind="open"))
            elif to in changed:
                derived = replace(
                    one, ref=to, came=text.came, received=text.received, id=f"{text.id}/moved",
                    sent=max(one.sent, text.sent) if one.kind in CLOSING else one.sent,
                    retold=one.kind != "none",
                )  # fmt: skip
                if one.kind in ("size", "refused"):  # of two figures of one trench the worse one stands
                    plan = self.trench(to).now.plan  # type: ignore[union-attr]
                    derived = replace(derived, value=_plan(plan), kind="size" if plan else "none")
                held = self.trench(to)
                if held and any(each.id == derived.id and each.open_text for each in held.events):
                    derived = replace(derived, kind="open")  # as it was where it was told
                self.texts.append(derived)
                if derived.kind == "hazard":  # it is danger there as if it had been told there
                    who = next(who for who, (number, *_) in PEOPLE.items() if number == text.number)
                    self._alarmed(text.came, who, {to})

    # ------------------------------------------------------------------ what is written

    def say(self, line: str) -> None:
        if self.show:
            self.show(f"{self.steps:4} {self.clock.at:%a %H:%M:%S} {line}")

    def send(self, who: str, written: Written, at: datetime) -> None:
        """Hand it to the gateway, which delays, doubles, reorders and loses."""
        self.written += 1
        chance = self.chance
        stray = chance.random()
        sent = at
        if stray < 0.03:  # a phone whose clock is wrong
            sent = at + timedelta(hours=chance.choice((-5, -1, 1, 30)))
        elif stray < 0.035:
            sent = datetime(1, 1, 1, tzinfo=UTC)
        message = Message(
            id=f"m{self.written}", channel=self.channel, sender=PEOPLE[who][0], text=written.words,
            sent_at=sent, received_at=at,
        )  # fmt: skip
        luck = chance.random()
        if luck < 0.03:
            return  # lost
        delay = chance.uniform(2, 20) if luck < 0.9 else chance.uniform(60, 5400)
        arrival = Arrival(at + timedelta(seconds=delay), self.written, who, written, message)
        heapq.heappush(self.way, arrival)
        if chance.random() < 0.06:
            self.send_again(arrival)
        if chance.random() < 0.01:  # a provider that gives one id to two texts
            who, other = self.next_text()
            if PEOPLE[who][0] == message.sender and other.words != written.words:
                same_id = message.model_copy(update={"text": other.words})
                self.send_again(replace(arrival, written=other, message=same_id))

    def send_again(self, arrival: Arrival) -> None:
        at = max(arrival.at, self.clock.at) + timedelta(seconds=self.chance.uniform(1, 900))
        heapq.heappush(self.way, replace(arrival, at=at))

    def next_text(self) -> tuple[str, Written]:
        """What somebody writes next, from what they last heard stands in the way."""
        chance = self.chance
        ref = chance.choice(REFS)
        other = next(each for each in REFS if each != ref)
        owner, depth = self.owners[ref], self.depths[ref]
        if self.code and self.clock.at - self.code.at < CODE_LIFE and chance.random() < 0.5:
            return "S", Written(f"{self.code.ref} code {self.code.digits}", self.code.ref, "leave")
        luck = chance.random()
        if luck < 0.68:
            return self._honest(ref, owner, depth)
        if luck < 0.77:
            who = (
                "S" if (fact := chance.choice(list(site_texts.LOOSE))) == "inspected" else chance.choice("FR")
            )
            return who, site_texts.loose(fact, ref, chance)
        if luck < 0.79:
            return owner, Written(chance.choice(("yes", "YES")), None, "yes")
        if luck < 0.81:
            return chance.choice("FRSO"), site_texts.danger(ref if chance.random() < 0.7 else None, chance)
        if luck < 0.825:
            who, written = site_texts.odd(ref, chance)
            return ("S" if who == "S" else owner), written
        if luck < 0.85:
            return owner, site_texts.worse(ref, depth, chance)
        if luck < 0.90:
            return owner, site_texts.moves(ref, other, chance)
        if luck < 0.91:
            return chance.choice((owner, "S")), Written(f"that was {other} not {ref}", ref, "not at", other)
        if luck < 0.92:
            return chance.choice("FRS"), Written(
                f"{ref} {chance.choice(site_texts.NOBODY_KNOWS)}", ref, "open"
            )
        if luck < 0.93:
            return chance.choice("FSO"), Written(f"{ref} {chance.choice(site_texts.STOPS)}", ref, "stop")
        if luck < 0.935:
            return chance.choice("FSX"), Written(f"{ref} code {chance.randrange(10**6):06}", ref, "leave")
        if luck < 0.95:
            fact = chance.choice(list(site_texts.HONEST))  # of somebody whose part it is not
            return chance.choice("OX" if fact != "inspected" else "FOX"), self._void(fact, ref, depth)
        if luck < 0.96:
            return "S", Written(f"close {ref}", ref, "close")
        if luck < 0.97:
            fact = chance.choice(("ladder", "water", "services"))
            written = site_texts.honest(fact, "", depth, chance)
            return owner, replace(written, words=written.words.strip(), ref=None)
        if luck < 0.98:
            return chance.choice("FRSO"), Written(chance.choice(site_texts.CHAT), None, "none")
        return chance.choice("FRSO"), Written(chance.choice(site_texts.ASKS).format(ref=ref), None, "none")

    def _void(self, fact: str, ref: str, depth: float) -> Written:
        written = site_texts.honest(fact, ref, depth, self.chance)
        return replace(written, kind="none")

    def _honest(self, ref: str, owner: str, depth: float) -> tuple[str, Written]:
        chance = self.chance
        trench = self.trench(ref)
        if trench is None or trench.closed:
            return owner, site_texts.sizing(ref, depth)
        found, leave = self.stands(ref)
        assert found is not None
        if found.entry == "may":
            if self.code and self.code.ref == ref and not leave and chance.random() < 0.8:
                return "S", Written(f"{ref} code {self.code.digits}", ref, "leave")
            if not leave:
                return "S", Written(f"allow {ref}", ref, "none")
            if chance.random() < 0.5:
                n = chance.randint(1, 3)
                out = trench.now.heads > 0
                return owner, Written(f"{ref} {n} {'out' if out else 'in'}", ref, "heads", -n if out else n)
            return owner, site_texts.honest(chance.choice(list(site_texts.HONEST)[:-1]), ref, depth, chance)
        missing = chance.choice(found.missing[:3]).fact
        if missing in ("sizing", "plan changed"):
            return owner, site_texts.sizing(ref, depth)
        if missing == "open text":
            sender = next((w for w, (n, *_) in PEOPLE.items() if n == trench.now.open_texts[0].number), "X")
            if sender in "XSO" or chance.random() < 0.4:
                return "S", Written(f"{ref} seen", ref, "seen")
            return sender, Written("ignore", None, "ignore")
        if missing in ("open hazard", "stopped", "inspection"):
            if self.code and self.code.opens and chance.random() < 0.7:
                return "S", Written(f"{self.code.ref} code {self.code.digits}", self.code.ref, "leave")
            return "S", site_texts.honest("inspected", ref, depth, chance)
        if missing == "units" and trench.now.tagged:
            return owner, Written(f"{ref} {trench.now.tagged[0].n} tagged replaced", ref, "replaced")
        if missing == "gap below":
            return owner, site_texts.honest("dug", ref, depth, chance)
        if missing == "pressure":
            if chance.random() < 0.5:
                return owner, Written(f"{ref} {chance.choice(site_texts.GAUGES)}", ref, "gauges")
            missing = "units"
        if missing in site_texts.TOGETHER and chance.random() < 0.2:
            return owner, site_texts.together(missing, ref, depth, chance)
        return owner, site_texts.honest(missing, ref, depth, chance)

    def live(self, days: int) -> None:
        """So many days, one after another."""
        for day in range(days):
            at = max(self.clock.at, MONDAY + timedelta(days=day))
            self.clock.at = at
            self.judged()
            for _ in range(TEXTS_A_DAY):
                at = max(at, self.clock.at) + timedelta(seconds=self.chance.expovariate(1 / 400) + 1)
                while self.way and self.way[0].at <= at:
                    self.given(heapq.heappop(self.way))
                self.clock.at = max(self.clock.at, at)
                if self.chance.random() < 0.01:
                    self._office_changes()
                who, written = self.next_text()
                self.send(who, written, at)
            while self.way:
                self.given(heapq.heappop(self.way))
            self.whole()

    def _office_changes(self) -> None:
        self.basis, self.figures = self.chance.choice(self.bases)
        self.service.use(self.basis, self.people)
        self.looked.clear()
        self.say(f"the office changed figures: {self.figures}")
        self.judged()

    def close(self) -> None:
        """The files go with the site."""
        self.store.db.close()
        for each in self.folder.glob(f"{self.seed}.*"):
            each.unlink()


def _plan(plan: Sized | None) -> dict[str, Any] | None:
    """How deep a plan goes, dug deeper than told included, and its shores."""
    if plan is None:
        return None
    shores = [[each.model_dump(mode="json") for each in plan.levels], plan.strut.size, plan.boards]
    return {"depth_m": max(plan.stages_m), "shores": json.dumps(shores)}


def remember_sizes(put: Callable[[Any, str, Any], None] = setattr) -> None:
    """Size the same figures once: sizing is pure, and these trenches are few."""
    known: dict[Any, Any] = {}
    real = size.size

    def remembered(told: Any, tables: Any, rulebook: Any, kit: Any) -> Any:
        key = (told, id(tables), rulebook, kit)
        if key not in known:
            known[key] = real(told, tables, rulebook, kit), tables
        return known[key][0]

    for module in (size, moved, wrong_hole):
        put(module, "size", remembered)
