"""The decision on one message, its words, and what it changes; and which file of this room answers what.

A purpose is one file: its `PURPOSE`, which `knowledge.reading` names, and `answer`, from a case to an answer.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from importlib import import_module
from pkgutil import iter_modules
from typing import get_args

from bot.dialogue import said_time
from bot.dialogue.context import Context, shift
from bot.dialogue.replies import ReplyWriter
from bot.dialogue.which_trench import TrenchMeant
from bot.message import Alert, Guest, Heard, Message, Opening, Person, Proposal, Site, event_name
from knowledge.entry.may_enter import allowance, entry
from knowledge.names import DONE
from knowledge.outcome import Ask, Entry, Outcome, Sized, Unclear
from knowledge.reading import Details, Done, Purpose, Reading
from knowledge.record.shift import Shift
from knowledge.record.trench import Event, Trench, late, told
from knowledge.tables.load import Tables


@dataclass(frozen=True)
class Answer:
    """`asked` are the fields that the reply asks about; `code` lets people in, until `code_until`; a picture
    shows `sketched` beside the words."""

    outcome: Outcome
    text: str
    ref: str | None = None
    trenches: tuple[Trench, ...] = ()
    alerts: tuple[Alert, ...] = ()
    asked: tuple[str, ...] = ()
    code: str | None = None
    code_until: datetime | None = None
    opening: Opening | None = None  # what that code opens, where it is not entry
    wrong_codes: int | None = None  # tries at codes that were wrong; None: as before
    locked_until: datetime | None = None  # no code of this sender counts until then
    sketched: Trench | None = None
    proposals: tuple[Proposal, ...] | None = None  # what is asked with YES from now on; None: as before
    listed: tuple[str, ...] | None = None  # events whose words the reply shows, for SEEN; None: as before
    guest: Guest | None = None  # who is let join, or is not


@dataclass(frozen=True)
class Case:
    """One message with all that its answer is worked from.

    `pen` writes in the sender's language; `english` in the one that others are told in as well.
    """

    message: Message
    heard: Heard
    place: TrenchMeant
    context: Context
    person: Person
    site: Site
    tables: Tables
    pen: ReplyWriter
    english: ReplyWriter
    held_at: datetime | None = None  # when the text came that this one answers a question about, read as one

    @property
    def lapsed(self) -> bool:
        """Whether the sender's appointment as the competent person has run out."""
        until = self.person.appointed_until
        return until is not None and self.context.now.astimezone(self.shift.zone).date() > until

    @property
    def at(self) -> datetime:
        """When it was sent. A sender's clock that runs ahead is not believed."""
        return min(self.message.sent_at, self.context.now)

    @cached_property
    def said_at(self) -> datetime | None:
        """The time said for what is told, where it is one of the last hours; None where none is said."""
        said = self.heard.reading.said_at
        return said_time.past(said, self.at, self.shift.zone, self.tables) if said else None

    def told_by(self, trench: Trench) -> dict[str, str]:
        """Which example shows how each fact is reported, of those that the sender may report of a trench."""
        found = {"pressure": "units set", "gap below": "dug", "water": "dry"}
        found |= {self.fact_of(done): done for done in reversed(DONE)}
        if "services located" in trench.now.said:
            found["services"] = "services supported"
        if not self.may("inspect"):
            del found["inspection"]
        return found

    def fact_of(self, done: Done) -> str:
        """Which fact of entry is told by what is done."""
        by_name = {"services located": "services", "services supported": "services"}
        return by_name.get(done) or self.tables.entry.done[done] or done.removesuffix(" set")

    def facts_told(self, reading: Reading) -> set[str]:
        """The facts of entry of which a report tells something, good or bad."""
        told = {self.fact_of(what) for what in reading.done}
        by_value = (
            ("gap below", reading.depth_m),
            ("spoil", reading.spoil_m),
            ("water", reading.water),
            ("ends", reading.ends),
            ("units", reading.gauges or reading.units_set),
            ("air test", reading.air or None),
        )
        return told | {fact for fact, value in by_value if value}

    @cached_property
    def shift(self) -> Shift:
        return shift(self.site)

    @cached_property
    def record(self) -> Trench:
        """The trench on record, or a new record for one that is not.

        Under a reference that was closed the old record goes on, by today's rulebook and kit: no hazard that
        stood open on it is forgotten.
        """
        ref = self.place.ref or ""
        before = self.context.closed.get(ref)
        new = replace(self.blank(ref), events=before.events, states=before.states) if before else None
        return self.place.trench or new or self.blank(ref)

    def blank(self, ref: str) -> Trench:
        """A trench of which nothing is known."""
        book = self.tables.rulebook(self.site.rulebook)
        return Trench(ref, self.site.name, self.site.rulebook, self.site.kit or book.kit)

    def event(
        self,
        reading: Reading | None = None,
        *,
        plan: Sized | None = None,
        sized_on: Details | None = None,
        stopped: bool = False,
        code_ok: bool = False,
        open_text: bool = False,
        offered: Reading | None = None,
        seen: tuple[str, ...] = (),
        other_crew: bool = False,
    ) -> Event:
        """This message as an event of the record, with another `reading` where more or less of it counts."""
        return Event(
            id=event_name(self.message.channel, self.message.sender, self.message.id),
            at=self.said_at or self.at,
            retold=self.said_at is not None,
            by=self.person.name,
            number=self.person.number,
            role=self.person.role,
            reading=reading or self.heard.reading,
            plan=plan,
            sized_on=sized_on,
            stopped=stopped,
            code_ok=code_ok,
            words=self.message.text,
            open_text=open_text,
            offered=offered,
            seen=seen,
            other_crew=other_crew,
            lapsed=self.lapsed,
            received=self.context.now,
        )

    def told(self, event: Event | None = None, trench: Trench | None = None) -> Trench:
        """The record with this message taken down.

        What is said for an earlier time stands there; as far as it speaks against entry it is told now too.
        """
        event = event or self.event()
        record = told(trench or self.record, event, self.tables)
        if not event.retold:
            return record
        against = event.reading.model_copy(update={"left_over": ("said for an earlier time",), "done": ()})
        now = replace(event, id=f"{event.id}/now", at=self.at, reading=against, retold=False)
        return told(record, now, self.tables)

    def notes(self, record: Trench) -> list[str]:
        """How this message was put on `record`: late, or under a reference that had been closed."""
        said = []
        if self.said_at:
            said.append(self.pen.say("said-for", time=self.pen.time(self.said_at)))
        elif late(self.record, self.event()):
            said.append(self.pen.say("late", time=self.pen.time(self.at)))
        if self.record.closed and not record.closed:
            said.append(self.pen.say("reopened", trench=record.ref))
            still = ", ".join(self.pen.catalog.term(each.kind) for each in self.record.now.hazards)
            said.append(self.pen.say("reopened-hazards", hazards=still) if still else "")
        return said

    def entry(self, trench: Trench) -> Entry:
        """What stands in the way of entry to a trench, now."""
        return entry(trench, self.context.now, self.tables, self.shift)

    def allowed_by(self, trench: Trench) -> str | None:
        """Who let people into a trench, as far as that still counts; None where it does not."""
        given = allowance(trench, self.context.now, self.tables, self.shift)
        return given.by if given else None

    def may(self, act: str) -> bool:
        """Whether the sender may do that by text; none inspects or lets in whose appointment ran out."""
        if self.lapsed and act in ("inspect", "allow"):
            return False
        return act in self.tables.entry.roles[self.person.role].may

    @property
    def emergency(self) -> str:
        """The number that calls the emergency services on this site."""
        number: str = getattr(self.tables.hazards.emergency, self.site.rulebook)
        return number


def which(case: Case) -> Answer:
    """Several trenches are open and none was named: none is guessed."""
    text = case.pen.say("whose", trenches=", ".join(sorted(case.place.candidates)))
    return Answer(Ask(questions=("trench",)), text, asked=("trench",))


def nowhere(case: Case) -> Answer:
    """No such trench on record, or no telling which is meant."""
    if case.place.candidates:
        return which(case)
    pen, ref = case.pen, case.heard.reading.trench
    if ref is None and not case.context.trenches:
        text = pen.say("no-trench", example=pen.example("size"))
    else:
        named = pen.say("no-trench-named", trench=ref) if ref else ""
        text = f"{named} {open_here(case)}".strip()
    return Answer(Unclear(why="no trench on record"), text, None)


def told_of(case: Case, act: str = "tell") -> Trench | Answer:
    """The trench that something is told of; or the answer that there is none, or that it is not the sender's
    part to do this (`act`, as in `entry.toml`: roles)."""
    if case.place.trench is None:
        return nowhere(case)
    return case.place.trench if case.may(act) else not_your_part(case)


def not_your_part(case: Case) -> Answer:
    """What only somebody else may do by text."""
    text = case.pen.say("not-your-part", name=case.person.name)
    return Answer(Unclear(why=f"not for the {case.person.role}"), text, case.place.ref)


def open_here(case: Case) -> str:
    """Which trenches of the site are open."""
    if not case.context.trenches:
        return case.pen.say("status-none")
    return case.pen.say("open-here", trenches=", ".join(sorted(case.context.trenches)))


def found() -> dict[Purpose, Callable[[Case], Answer]]:
    """Every purpose with what answers it. Raises LookupError for one that has no file, or two."""
    answers: dict[Purpose, Callable[[Case], Answer]] = {}
    for each in iter_modules(import_module(__package__).__path__):
        module = import_module(f"{__package__}.{each.name}")
        purpose = getattr(module, "PURPOSE", None)
        if purpose is None:
            continue
        if purpose in answers or purpose not in get_args(Purpose):
            twice = "answered in two files" if purpose in answers else "not in knowledge/reading.py: Purpose"
            raise LookupError(f"bot/dialogue/answers/{each.name}.py: PURPOSE: {purpose!r} is {twice}")
        answers[purpose] = module.answer
    for purpose in get_args(Purpose):
        if purpose not in answers:
            raise LookupError(
                f"knowledge/reading.py: Purpose: {purpose!r} has no answer: no file in bot/dialogue/answers/"
                " has it as its PURPOSE"
            )
    return answers
