"""Playing demo chats: each text goes the whole road, onto a log of its own or a given one."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime

from pydantic import ValidationError

from bot.clock import MessageClock
from bot.config.basis import Basis
from bot.config.people import People, PeopleFile
from bot.demo.chat_file import ChatError, Story, StoryText
from bot.message import Message
from bot.service import Service
from bot.storage.turns import Answered, Store

FIRST_DAY = datetime(2026, 11, 25, tzinfo=UTC)
CODE = "730412"  # stands for the random code, so that a story can say it back
SITE = "Demo Street"
STRANGER = "+447700900999"


@dataclass(frozen=True)
class Played:
    """What the program did with one text of a story, and how that differs from its file."""

    said: StoryText
    bot: list[str]
    others: list[tuple[str, str]]
    differs: list[str]


def play(story: Story, basis: Basis) -> list[Played]:
    """Play a story on a new log in memory. Raises ChatError where its site is not believable."""
    store = Store(":memory:")
    try:
        return play_on(store, story, crew(story), basis, FIRST_DAY)
    finally:
        store.close()


def play_on(store: Store, story: Story, people: People, basis: Basis, day: datetime) -> list[Played]:
    """Play a story on a log, beginning on `day`; who speaks is looked up by name."""
    names = {person.number: person.name for person in people}
    numbers = {name: number for number, name in names.items()}
    strangers = [said.name for said in story.said if said.role == "stranger"]
    names |= {STRANGER: strangers[0]} if strangers else {}
    service = Service(store, people, basis, MessageClock(), new_code=lambda: CODE)
    played = []
    for said in story.said:
        at = day + said.after
        message = Message(
            id=f"{story.name}-{said.line}-{day:%Y%m%d}",
            channel="chat",
            sender=numbers.get(said.name, STRANGER),
            text=said.text,
            sent_at=at,
            received_at=at,
        )
        with store.transaction():
            answered = service.answer(message)
        alerts = json.loads(store.alerts(answered.exchange))
        others = [(names[alert["to"]], line) for alert in alerts for line in alert["text"].splitlines()]
        played.append(_compared(said, answered, others))
    return played


def crew(story: Story) -> People:
    """Everybody who speaks in a story, with numbers set aside for fiction. Raises ChatError."""
    roles = {said.name: said.role for said in story.said if said.role != "stranger"}
    persons = [
        {"number": f"+4477009001{at:02}", "name": name, "role": role, "site": SITE}
        for at, (name, role) in enumerate(roles.items())
    ]
    try:
        rows = PeopleFile.model_validate({"person": persons, "site": [{"name": SITE, **story.site}]})
    except ValidationError as error:
        raise ChatError(f"{story.name}: {error.errors()[0]['msg']}") from error
    return People.of(rows)


def _compared(said: StoryText, answered: Answered, others: list[tuple[str, str]]) -> Played:
    bot = answered.reply.splitlines()
    reading, outcome = json.loads(answered.reading), json.loads(answered.outcome)
    differs = [why for check in said.checks if (why := check.fails(reading, outcome))]
    if bot != said.bot:
        differs.append(f"line {said.line}: the answer is not the one in the file")
    if others != said.others:
        differs.append(f"line {said.line}: what others get is not what the file says")
    return Played(said, bot, others, differs)
