"""A text that could not be answered for an error of ours: what it may have told is held against entry."""

from collections.abc import Iterator, Sequence

from bot.dialogue import replies
from bot.dialogue.context import Context
from bot.language.catalog import Catalog
from bot.language.tokens import references
from bot.message import Alert, Message, event_name
from knowledge.reading import Reading
from knowledge.record.trench import Event, Role, Trench, told
from knowledge.tables.load import Tables

MOST_WORDS = 60  # characters of a quotation
ANYBODY: Role = "office"  # may look, and nothing more


def records(message: Message, context: Context, tables: Tables) -> Iterator[Trench]:
    """The open trenches that the text may be of, each with possible danger on it.

    One whose record is what cannot be worked is passed over: no question about it is answered either.
    """
    person = context.person
    event = Event(
        id=event_name(message.channel, message.sender, message.id),
        at=context.now,
        by=person.name if person else message.sender,
        number=message.sender,
        role=person.role if person else ANYBODY,
        reading=Reading(
            purpose="unclear", possible_hazard=True, danger=1.0, left_over=(message.text[:MOST_WORDS] or "?",)
        ),
        words=message.text,
        received=context.now,
    )
    for ref in _of(message, context):
        try:
            yield told(context.trenches[ref], event, tables)
        except Exception:  # whatever went wrong in the first place may go wrong again
            continue


def _of(message: Message, context: Context) -> Sequence[str]:
    if context.site is None:
        return ()
    every = tuple(context.trenches)
    return [ref for ref in references(message.text) if ref in every] or every


def alerts(
    message: Message, context: Context, trenches: Sequence[Trench], catalog: Catalog
) -> tuple[Alert, ...]:
    """The supervisors of the site, each once, with the words."""
    if context.site is None or context.person is None:
        return ()
    text = catalog.say["failed-alert"].format(
        trench=", ".join(trench.ref for trench in trenches) or context.site.name,
        name=context.person.name,
        words=message.text[:MOST_WORDS],
    )
    return tuple(
        Alert(to=person.number, text=replies.fit([text]), why="hazard", urgent=True)
        for person in context.people.supervisors(context.site.name)
        if person.number != message.sender
    )
