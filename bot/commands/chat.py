"""`trenchword chat`: talk to the service in the terminal as somebody who may text."""

import argparse
import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from bot.clock import MachineClock
from bot.commands import Commands, UsageError
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
            if text.strip():
                print(_answer(store, service, person, text))
    finally:
        store.close()
    return 0


def _answer(store: Store, service: Service, person: Person, text: str) -> str:
    """The reply, and what others would get."""
    now = datetime.now(UTC)
    message = Message(
        id=now.isoformat(), channel="chat", sender=person.number, text=text, sent_at=now, received_at=now
    )
    with store.transaction():
        answered = service.answer(message)
        alerts = json.loads(store.alerts(answered.exchange))
    return "\n".join([answered.reply, *(f"    to {alert['to']}: {alert['text']}" for alert in alerts)])


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
