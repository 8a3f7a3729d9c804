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
    text = replies.fit(list(dict.fromkeys(news(pen) for pen in (case.english, case.pen))))
    supervisors = [person.number for person in case.context.people.supervisors(case.site.name)]
    told = [number for record in records for number in record.now.told]
    numbers = dict.fromkeys([*supervisors, *told])
    return tuple(
        Alert(to=number, text=text, why="hazard", urgent=urgent)
        for number in numbers
        if number != case.person.number and case.context.people.find(number)
    )
