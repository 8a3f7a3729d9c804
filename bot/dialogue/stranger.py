"""A text from a number that nobody knows: nothing of it is taken, and what it says is not nothing."""

from bot.dialogue import joining, replies
from bot.dialogue.context import Context, shift
from bot.language.catalog import Catalog
from bot.message import Alert, Manner, Message, Person, Turn, event_name
from bot.reading.both import Readers
from knowledge.outcome import Noted, Unclear
from knowledge.reading import Reading
from knowledge.record.trench import Event, Trench, told
from knowledge.tables.load import Tables

MOST_WORDS = 60  # characters of a quotation


def overheard(message: Message, context: Context, tables: Tables, readers: Readers, catalog: Catalog) -> Turn:
    """Hold entry to the open trenches that it names, pass its words on, and say whom to ring.

    Danger by either reader stands as possible danger, anything else as a text that nobody understood: both
    are the supervisor's to clear.
    """
    heard = readers.read(message.text)
    reading = heard.reading
    danger = bool(reading.hazards) or (reading.danger or 0.0) >= readers.second.thresholds.danger.open_text
    if turn := joining.asked(message, reading, context, tables.stamp, catalog):
        return turn
    if not context.overheard:
        passed_on = danger or bool(reading.possible_hazard)
        return (
            _danger_somewhere(message, reading, context, tables, catalog)
            if passed_on
            else _nothing(message, tables, catalog)
        )
    kept = Reading(
        purpose="report" if danger else "unclear",
        possible_hazard=danger or None,
        danger=1.0 if reading.hazards else reading.danger,
        left_over=reading.left_over or (message.text[:MOST_WORDS],),
    )
    records = tuple(_told(message, context, trench, kept, tables) for trench in context.overheard)
    number = getattr(tables.hazards.emergency, records[0].rulebook)
    return Turn(
        message=message,
        reading=kept,
        outcome=Noted(trench=records[0].ref if len(records) == 1 else None),
        reply=replies.to(message.sender, catalog.say["unknown-passed-on"].format(emergency=number)),
        manner=Manner(),
        trench=records[0].ref if len(records) == 1 else None,
        alerts=_alerts(message, context, records, catalog),
        stamp=tables.stamp,
        trenches=records,
    )


def _told(message: Message, context: Context, trench: Trench, kept: Reading, tables: Tables) -> Trench:
    event = Event(
        id=event_name(message.channel, message.sender, message.id),
        at=min(message.sent_at, context.now),
        by=message.sender,
        number=message.sender,
        role="office",  # may look, and nothing more
        reading=kept,
        words=message.text,
        open_text=not kept.possible_hazard,
        received=context.now,
    )
    return told(trench, event, tables)


def _alerts(
    message: Message, context: Context, records: tuple[Trench, ...], catalog: Catalog
) -> tuple[Alert, ...]:
    """The supervisors of each site, each once, with the words."""
    alerts = []
    for record in records:
        zone = shift(context.people.site(record.site)).zone
        text = catalog.say["unknown-alert"].format(
            trench=f"{record.ref} ({record.now.place})" if record.now.place else record.ref,
            number=message.sender,
            time=f"{message.sent_at.astimezone(zone):%H:%M}",
            words=message.text[:MOST_WORDS],
        )
        alerts += [
            Alert(to=person.number, text=replies.fit([text]), why="hazard", urgent=True)
            for person in context.people.supervisors(record.site)
        ]
    return tuple(alerts)


def _danger_somewhere(
    message: Message, reading: Reading, context: Context, tables: Tables, catalog: Catalog
) -> Turn:
    """Danger at a trench that is on no record: the emergency line, and every supervisor hears of it."""
    supervisors = [person for person in context.people if person.role == "supervisor"]
    rulebooks = {context.people.site(person.site).rulebook for person in supervisors} or {"uk"}
    numbers = sorted(getattr(tables.hazards.emergency, rulebook) for rulebook in rulebooks)
    words = message.text[:MOST_WORDS]

    def alert(to: Person) -> Alert:
        zone = shift(context.people.site(to.site)).zone
        text = catalog.say["stranger-danger-alert"].format(
            number=message.sender, time=f"{message.sent_at.astimezone(zone):%H:%M}", words=words
        )
        return Alert(to=to.number, text=replies.fit([text]), why="hazard", urgent=True)

    return Turn(
        message=message,
        reading=Reading(purpose="report", hazards=reading.hazards, possible_hazard=reading.possible_hazard),
        outcome=Noted(hazards=reading.hazards),
        reply=replies.to(
            message.sender, catalog.say["stranger-danger"].format(emergency=" / ".join(numbers))
        ),
        alerts=tuple(alert(person) for person in supervisors),
        stamp=tables.stamp,
    )


def _nothing(message: Message, tables: Tables, catalog: Catalog) -> Turn:
    return Turn(
        message=message,
        reading=Reading(),
        outcome=Unclear(why="not on the crew list"),
        reply=replies.to(message.sender, catalog.say["unknown-sender"]),
        stamp=tables.stamp,
    )
