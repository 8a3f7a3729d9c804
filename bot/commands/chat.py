"""`trenchword chat`: talk to the service in the terminal as somebody who may text."""

import argparse
import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from bot.clock import MachineClock
from bot.commands import Commands, UsageError, framed, is_loud, laid_out
from bot.config.in_force import InForce
from bot.config.people import People
from bot.demo.seed import PEOPLE
from bot.message import Message, Person
from bot.service import Service
from bot.storage.turns import Store


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("chat", help="talk in the terminal as a named sender")
    command.add_argument("--people", type=Path, default=PEOPLE, metavar="FILE", help="default: the demo crew")
    command.add_argument("--as", dest="who", default="Sam", metavar="NAME", help="name or number")
    command.add_argument("--db", default=":memory:", metavar="FILE", help="default: keep nothing")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer each line until the input ends."""
    store = Store(args.db)
    try:
        in_force = InForce.load(store.db, args.people)
        person = _who(in_force.people, args.who)
        service = Service(store, in_force.people, in_force.basis, MachineClock())
        if sys.stdin.isatty():
            print(f"You are {person.name} ({person.role}) on {person.site}. Ctrl-D ends.")
        while (text := _line(f"{person.name}: ")) is not None:
            if not text.strip():
                continue
            said, loud = _answer(store, service, in_force.people, person, text)
            if sys.stdin.isatty() and sys.stdout.isatty():
                laid_out(*framed(said, loud))
            else:
                print("\n".join([said[0][1], *(f"    {who}: {words}" for who, words in said[1:])]))
    finally:
        store.close()
    return 0


def _answer(
    store: Store, service: Service, people: People, person: Person, text: str
) -> tuple[list[tuple[str, str]], bool]:
    """The reply and what others would get: from or to whom, and the words; and whether it is of danger."""
    now = datetime.now(UTC)
    message = Message(
        id=now.isoformat(), channel="chat", sender=person.number, text=text, sent_at=now, received_at=now
    )
    with store.transaction():
        answered = service.answer(message)
        alerts = json.loads(store.alerts(answered.exchange))
    names = {each.number: f"{each.name}, {each.number}" for each in people}
    others = [(f"to {names.get(alert['to'], alert['to'])}", alert["text"]) for alert in alerts]
    return [("Trenchword", answered.reply), *others], is_loud(json.loads(answered.outcome))


def _who(people: People, who: str) -> Person:
    for person in people:
        if who in (person.name, person.number):
            return person
    raise UsageError(f"chat: nobody is called {who!r}; there are {', '.join(p.name for p in people)}")


def _line(prompt: str) -> str | None:
    try:
        return input(prompt if sys.stdin.isatty() else "")
    except EOFError:
        return None
