"""Who is told of what happens at a trench."""

from collections.abc import Callable, Iterable

from bot.dialogue import replies
from bot.dialogue.answers.base import Case
from bot.dialogue.replies import ReplyWriter
from bot.message import Alert
from knowledge.record.trench import Trench


def alarm(
    case: Case, records: Iterable[Trench], news: Callable[[ReplyWriter], str], *, urgent: bool = True
) -> tuple[Alert, ...]:
    """The supervisors of the site and everyone told about that trench, each once, but not the sender.

    They may not read the sender's language: they are told in English, and then in that of the sender.
    """
    records = tuple(records)
    pens = (case.english, case.pen)
    said = [part for pen in pens for part in (news(pen), *still_in(pen, records))]
    text = replies.fit(list(dict.fromkeys(said)))
    supervisors = [person.number for person in case.context.people.supervisors(case.site.name)]
    told = [number for record in records for number in (*record.now.told, *_handed_to(case, record))]
    numbers = dict.fromkeys([*supervisors, *told])
    return tuple(
        Alert(to=number, text=text, why="hazard", urgent=urgent)
        for number in numbers
        if number != case.person.number and case.context.people.find(number)
    )


def _handed_to(case: Case, record: Trench) -> list[str]:
    """The number of who is to take it over: until they have, both are told."""
    handed = record.now.handed
    people = case.context.people.on_site(case.site.name)
    return [person.number for person in people if handed and person.name == handed.name]


def named(record: Trench) -> str:
    """The reference, and where it is, for whoever must find it."""
    return f"{record.ref} ({record.now.place})" if record.now.place else record.ref


def still_in(pen: ReplyWriter, records: Iterable[Trench]) -> list[str]:
    """How many were told to be in, so that all of them are counted out."""
    return [
        pen.say("were-in", trench=record.ref, heads=str(record.now.heads))
        for record in records
        if record.now.heads
    ]


def news_to(
    case: Case, numbers: Iterable[str], news: Callable[[ReplyWriter], str], why: str = "news"
) -> tuple[Alert, ...]:
    """A text to some people, each once, but not the sender; no alarm."""
    text = replies.fit(list(dict.fromkeys(news(pen) for pen in (case.english, case.pen))))
    return tuple(
        Alert(to=number, text=text, why=why)
        for number in dict.fromkeys(numbers)
        if number != case.person.number and case.context.people.find(number)
    )


def supervisors(case: Case) -> list[str]:
    """The numbers of the competent persons of the site."""
    return [person.number for person in case.context.people.supervisors(case.site.name)]
