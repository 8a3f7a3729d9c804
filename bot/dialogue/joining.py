"""A number that asks to join a site, and the supervisor who says YES to it: a fitter until the shift ends."""

from dataclasses import dataclass
from datetime import timedelta

from bot.dialogue import replies
from bot.dialogue.context import Context
from bot.language.catalog import Catalog
from bot.language.lexicon import Lexicon
from bot.language.patterns import said
from bot.language.tokens import bare
from bot.message import Alert, Guest, Message, Turn
from knowledge.outcome import Noted
from knowledge.reading import Reading

ANSWERED_WITHIN = timedelta(hours=1)  # a question to a supervisor who may be down a ladder


@dataclass(frozen=True)
class Admission:
    """What becomes of somebody who asked to join."""

    guest: Guest
    yes: bool


def asked(message: Message, reading: Reading, context: Context, stamp: str, catalog: Catalog) -> Turn | None:
    """The turn in which a number that is not on the list asks; None where it names no site."""
    if reading.purpose != "join" or not (reading.place and reading.to):
        return None
    sites = {person.site for person in context.people} | {site.name for site in context.people.described}
    site = next((one for one in sites if one.casefold() == reading.place.casefold()), None)
    if site is None:
        return None
    guest = Guest(number=message.sender, name=reading.to, site=site, asked=context.now)
    text = catalog.say["join-ask"].format(number=guest.number, site=site, name=guest.name)
    return Turn(
        message=message,
        reading=reading,
        outcome=Noted(noted=(f"join {site}",)),
        reply=replies.to(message.sender, catalog.say["join-asked"].format(site=site)),
        alerts=tuple(
            Alert(to=person.number, text=text, why="join") for person in context.people.supervisors(site)
        ),
        stamp=stamp,
        guest=guest,
    )


def admission(message: Message, context: Context, words: Lexicon) -> Admission | None:
    """The answer of a supervisor to one who asked: "YES Dave". None for any other text."""
    text = said(message.text)
    if text is None or text.question or context.person is None or context.person.role != "supervisor":
        return None
    for guest in context.guests:
        waits = guest.until is None and context.now - guest.asked <= ANSWERED_WITHIN
        if not waits or guest.site != context.person.site:
            continue
        name = bare(guest.name.lower())
        for word, yes in (("answer_yes", True), ("answer_no", False)):
            every = {one for language in words.languages.values() for one in language.said(word)}
            if any(text.words == f"{one} {name} " for one in every):
                return Admission(guest, yes)
    return None
