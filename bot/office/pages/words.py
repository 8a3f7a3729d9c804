"""The words of the crews: those that were not understood, and a form that adds a phrase to a meaning."""

import asyncio
import tomllib
from collections.abc import Iterator
from typing import Any

from aiohttp import web

from bot.config.shipped import WORDS
from bot.office import diff, toml_edit
from bot.office.access import keepers_only
from bot.office.context import OFFICE
from bot.office.pages.changes import field, look, number
from bot.office.pages.today import unread_words
from bot.office.render import page
from knowledge.sourced import DataError

SHOWN = 60  # words that were not understood
FIRST = ("ground", "services", "labels", "say", "purposes", "units")  # what is most often added to
LEFT = ("facts", "numbers", "plain", "abbreviated", "skip")  # what only the whole text can change


async def show_words(
    request: web.Request, name: str, text: str, wrong: str = "", phrase: str = "", meaning: str = ""
) -> web.Response:
    """The page of a language."""
    office = request.config_dict[OFFICE]
    unread = await office.read(lambda connection: unread_words(connection.db, SHOWN))
    undecided = office.in_force.is_undecided(name)
    return page(
        request,
        "words.html",
        status=422 if wrong else 200,
        name=name,
        text=text,
        unread=unread,
        meanings=dict(meanings(text)),
        wrong=wrong,
        phrase=phrase or request.query.get("phrase", "")[:80],
        meaning=meaning,
        base=office.in_force.base(name),
        change=office.in_force.changed.get(name),
        came=diff.lines(office.in_force.shipped.get(name, ""), text) if undecided else None,
    )


@keepers_only
async def add(request: web.Request) -> web.StreamResponse:
    """Look at what one more phrase would change."""
    name, form = WORDS + request.match_info["language"], await request.post()
    text = request.config_dict[OFFICE].in_force.texts.get(name)
    if text is None:
        raise web.HTTPNotFound(text=f"There is no file {name}.")
    phrase, meaning = " ".join(field(form, "phrase", 80).lower().split()), field(form, "meaning", 100)
    there = dict(meanings(text))
    wrong = ""
    if not phrase or not phrase.isprintable():
        wrong = "A word or a few, as crews write them."
    elif meaning not in there:
        wrong = "Choose what it means."
    elif phrase in there[meaning]:
        wrong = "It is read so already."
    if not wrong:
        try:
            path = tuple(meaning.split("/"))
            changed = await asyncio.to_thread(toml_edit.with_phrase, text, path, phrase)
            return await look(request, name, changed, number(form, "base"))
        except DataError as error:
            wrong = str(error)
    return await show_words(request, name, text, wrong, phrase, meaning)


def meanings(text: str) -> Iterator[tuple[str, list[str]]]:
    """Every list of phrases by its path, "reading/say/open". The text must be valid TOML."""
    section = tomllib.loads(text).get("reading", {})
    first = {name: section[name] for name in FIRST if name in section}
    yield from _lists("reading", {name: each for name, each in (first | section).items() if name not in LEFT})


def _lists(path: str, value: Any) -> Iterator[tuple[str, list[str]]]:
    if isinstance(value, dict):
        for key, each in value.items():
            yield from _lists(f"{path}/{key}", each)
    elif isinstance(value, list) and all(isinstance(each, str) for each in value):
        yield path, value


routes = [web.post("/words/{language}", add)]
