"""Somebody on the list asks to join, or a supervisor lets join who is not: that is heard in `stranger.py`."""

from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.joining import Admission
from bot.message import Alert
from knowledge.outcome import Noted, Unclear
from knowledge.reading import Purpose

PURPOSE: Purpose = "join"


def answer(case: Case) -> Answer:
    """Say where they are."""
    text = case.pen.say("joined-already", name=case.person.name, site=case.site.name)
    return Answer(Unclear(why="on the list already"), text)


def admitted(case: Case, found: Admission) -> Answer:
    """What the supervisor says: from now on, or not at all. A question of ours to them stands as before."""
    context, guest = case.context, found.guest
    until = case.shift.close(context.now) if found.yes else context.now
    key = "join-yes" if found.yes else "join-no"
    blanks = {"name": guest.name, "site": guest.site, "until": f"{until.astimezone(case.shift.zone):%H:%M}"}
    text = case.english.catalog.say[key].format(**blanks)
    return Answer(
        Noted(noted=(text,)),
        text,
        alerts=(Alert(to=guest.number, text=text, why="join"),),
        asked=context.fresh.asked if context.fresh else (),
        guest=guest.model_copy(update={"until": until, "by": case.person.name}),
    )
