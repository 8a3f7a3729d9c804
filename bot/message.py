"""The values that travel the road: Message -> Reading -> Trench -> Outcome -> Reply, together one Turn."""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from knowledge.outcome import Outcome
from knowledge.reading import Frozen, Reading
from knowledge.record.trench import Role, Trench
from knowledge.sourced import Rulebook

LengthUnit = Literal["m", "mm", "cm", "ft", "in"]
PressureUnit = Literal["bar", "psi", "MPa"]


class Message(Frozen):
    """A text as it came in. `id` is the channel's own, the key against repeats; times are UTC."""

    id: str
    channel: str
    sender: str  # E.164, as "+447700900123"
    text: str
    sent_at: datetime
    received_at: datetime
    attached: bool = False  # a picture, a file or a voice came with it, which nobody here sees


def event_name(channel: str, sender: str, message_id: str) -> str:
    """How the record of a trench names what a message told. It is worked again from a row of the log."""
    return f"{channel}:{sender}:{message_id}"


class Manner(Frozen):
    """How the sender writes, so that the answer comes back in the same manner.

    `lengths` and `pressure` are the units the sender used (None: used neither); `taken` says what a
    local word was taken to mean, as (word, meaning) in the language of the message.
    """

    language: str = "en"
    lengths: LengthUnit | None = None
    pressure: PressureUnit | None = None
    taken: tuple[tuple[str, str], ...] = ()


class Heard(Frozen):
    """A reading with the manner it was said in. What `bot.reading.read` returns.

    `doubtful` are those of the reading's questions that the message did touch but that can be read in
    two ways ("16 deep"): an earlier answer must not stand in for them. The other questions are
    merely missing, and what was told before still holds.
    """

    reading: Reading
    manner: Manner
    doubtful: tuple[str, ...] = ()


class Reply(Frozen):
    """A text to send back."""

    to: str
    text: str


class Alert(Frozen):
    """A text that somebody else must get because of this turn."""

    to: str
    text: str
    why: str
    urgent: bool = False


@dataclass(frozen=True)
class Site:
    """Where a crew works: one rulebook and one kit for all its trenches. Shift times are local, "HH:MM"."""

    name: str
    rulebook: Rulebook = "uk"
    kit: str | None = None  # None: the kit that the rulebook names
    shift_start: str = "07:00"
    shift_end: str = "18:00"
    zone: str = "Europe/London"
    address: str = ""
    client: str = ""  # on whose behalf inspections are made: a particular of the report on one
    client_address: str = ""
    work_days: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)  # from Monday
    days_off: tuple[date, ...] = ()
    kit_examined_until: date | None = None  # the last day that its thorough examination holds


class Guest(Frozen):
    """Somebody not on the list who asked to join a site; with `until`, who may text there as a fitter till
    then, and on whose word."""

    number: str
    name: str
    site: str
    asked: datetime
    until: datetime | None = None
    by: str = ""


class Proposal(Frozen):
    """What a sender was asked with one YES: `reading` is what it would take, of the text `words`."""

    trench: str
    at: datetime  # when the question went out
    reading: Reading
    words: str = ""
    came: int = 0  # the last event of the trench then, in the order of coming in


class Opening(Frozen):
    """What a supervisor's text would open, once the code sent to their number has come back."""

    text: str
    at: datetime  # when it was sent
    trench: str | None = None  # that it was of, where it named none


class Thread(Frozen):
    """Where a sender's conversation stands: what they last spoke of and were last asked."""

    sender: str
    at: datetime
    trench: str | None = None
    asked: tuple[str, ...] = ()
    held: str = ""  # the text that the question is about: its answer is read together with it
    held_at: datetime | None = None  # when that came
    reply: str = ""
    language: str = "en"
    lengths: LengthUnit | None = None  # the units that the sender last wrote in
    pressure: PressureUnit | None = None
    marked_at: datetime | None = None  # when the sender was last told that nobody has read our words over
    code: str | None = None  # the short code sent to let people into `code_trench`, until `code_until`
    code_until: datetime | None = None
    code_trench: str | None = None
    opening: Opening | None = None  # what the code opens, where it is not entry
    wrong_codes: int = 0  # tries at codes that were wrong, since the last that was right
    codes_locked_until: datetime | None = None
    proposals: tuple[Proposal, ...] = ()  # asked with YES, and not answered
    listed: tuple[str, ...] = ()  # events whose words were shown to this supervisor, for SEEN
    listed_at: datetime | None = None  # when they were


@dataclass(frozen=True)
class Person:
    """Somebody who may text."""

    number: str
    name: str
    role: Role
    site: str
    appointed_until: date | None = None  # as the competent person, the last day; None: no date is kept


@dataclass(frozen=True)
class Turn:
    """One exchange whole: it is the log entry."""

    message: Message
    reading: Reading
    outcome: Outcome
    reply: Reply
    manner: Manner = field(default_factory=Manner)
    trench: str | None = None
    alerts: tuple[Alert, ...] = ()
    stamp: str = ""
    thread: Thread | None = None  # after this turn
    trenches: tuple[Trench, ...] = ()  # the records this turn changed, as they stand after it
    sketched: Trench | None = None  # what a picture is to be drawn of
    guest: Guest | None = None  # who asked to join, or was let
    error: str = ""  # an error of ours, for the log; the crew reads only the safe reply
