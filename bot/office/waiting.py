"""What waits for somebody's word: texts that nobody understood, and questions that nobody answered."""

from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from bot.config.people import People
from bot.dialogue.context import LAPSES
from bot.message import Person, Thread
from bot.storage import acknowledged
from bot.storage.acknowledged import Acknowledged
from knowledge.record.trench import Trench

_ASKED = """
    SELECT state FROM threads WHERE state ->> '$.asked' <> '[]' OR state ->> '$.proposals' <> '[]'
        OR state ->> '$.code' IS NOT NULL
"""


@dataclass(frozen=True)
class Waiting:
    """One thing that waits. `kind` is "text" (it holds entry back), "possible" (perhaps danger), "proposal"
    (asked with YES), "question" or "code"; `words` are the sender's own, `asked` what is wanted of them."""

    kind: str
    name: str
    number: str
    at: datetime
    words: str = ""
    asked: tuple[str, ...] = ()
    what: str = ""  # its name among what the office has seen to
    seen_to: Acknowledged | None = None


def held_words(db: Database, trench: Trench) -> list[Waiting]:
    """The words that hold entry to a trench back: they stay until they are cleared up by text."""
    state = trench.now
    found = [("possible", each) for each in state.possible] + [("text", each) for each in state.open_texts]
    names = [acknowledged.name_of_words(each.said.event) for _, each in found]
    seen = acknowledged.find(db, names)
    return [
        Waiting(kind, each.said.by, each.number, each.said.at, each.words, (), name, seen.get(name))
        for (kind, each), name in zip(found, names, strict=True)
    ]


def questions(db: Database, people: People, now: datetime) -> dict[tuple[str, str], list[Waiting]]:
    """What senders were asked lately and have not answered, by site and trench."""
    found: dict[tuple[str, str], list[Waiting]] = {}
    for (text,) in db.execute(_ASKED).fetchall():
        thread = Thread.model_validate_json(text)
        person = people.find(thread.sender)
        if person is None or now - thread.at > LAPSES:
            continue
        for ref, one in _asked(thread, person, now):
            found.setdefault((person.site, ref), []).append(one)
    return found


def _asked(thread: Thread, person: Person, now: datetime) -> list[tuple[str, Waiting]]:
    name, number = person.name, person.number
    found = [
        (
            each.trench,
            Waiting("proposal", name, number, each.at, each.words, tuple(each.reading.done)),
        )
        for each in thread.proposals
        if now - each.at <= LAPSES
    ]
    if thread.trench and thread.asked:
        found.append((thread.trench, Waiting("question", name, number, thread.at, thread.held, thread.asked)))
    if thread.code and thread.code_trench and thread.code_until and now <= thread.code_until:
        found.append((thread.code_trench, Waiting("code", name, number, thread.code_until)))
    return found
