"""The values that travel the road: Message -> Reading -> Trench -> Outcome -> Reply, together one Turn."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from knowledge.outcome import Outcome
from knowledge.reading import Frozen, Reading

Role = Literal["fitter", "supervisor", "office"]
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
    """A reading with the manner it was said in. What `bot.reading.read` returns."""

    reading: Reading
    manner: Manner


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
class Person:
    """Somebody who may text."""

    number: str
    name: str
    role: Role
    site: str


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
