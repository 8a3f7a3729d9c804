"""The demo: an invented crew and a few days of exchanges, made by really playing the demo chats."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from bot.config.basis import Basis
from bot.config.people import People
from bot.demo.chat_file import Story, read_story
from bot.demo.play import play_on
from bot.storage.turns import Store

PEOPLE = Path(__file__).parent / "people.toml"
CHATS = Path(__file__).parents[2] / "demo_chats"


def stories() -> list[Story]:
    """Every demo chat, by name."""
    return [read_story(file) for file in sorted(CHATS.glob("*.chat"))]


def seed(store: Store, people: People, basis: Basis, today: datetime) -> int:
    """Play what this crew could have said, a story a day up to yesterday. Returns how many exchanges."""
    names = {person.name for person in people}
    told = [story for story in stories() if not story.site and {s.name for s in story.said} <= names]
    first = today.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(len(told))
    played = [play_on(store, story, people, basis, first + timedelta(at)) for at, story in enumerate(told)]
    return sum(len(story) for story in played)
