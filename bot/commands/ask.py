"""`trenchword ask`: answer one message, with no trench on record and nothing kept."""

import argparse
import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from bot.commands import Commands, UsageError, framed, is_loud, laid_out
from bot.commands.log import basis_of
from bot.config.people import People
from bot.dialogue.context import Context
from bot.dialogue.conversation import converse
from bot.message import Message, Person, Site

ASKER = Person("+447700900000", "You", "supervisor", "Nowhere")


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("ask", help="answer one message; keep nothing")
    command.add_argument("text", metavar="TEXT")
    command.add_argument("--rulebook", choices=("uk", "us"), default="uk")
    command.add_argument("--kit", metavar="NAME", help="kit to size with (default: the rulebook's)")
    command.add_argument("--json", action="store_true", help="the outcome as one JSON object")
    command.add_argument("--db", type=Path, metavar="FILE", help="use the changes saved in this database")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the reply, or the outcome."""
    basis = basis_of(args.db)
    if args.kit and args.kit not in basis.tables.kits:
        raise UsageError(f"ask: there is no kit {args.kit!r}; there are {', '.join(basis.tables.kits)}")
    site = Site(ASKER.site, rulebook=args.rulebook, kit=args.kit)
    now = datetime.now(UTC)
    context = Context(now, ASKER, site, thread=None, trenches={}, people=People([ASKER], [site]))
    message = Message(
        id="ask", channel="ask", sender=ASKER.number, text=args.text, sent_at=now, received_at=now
    )
    turn = converse(message, context, basis.tables, basis.readers, basis.catalogs)
    if args.json:
        print(json.dumps(turn.outcome.public(), ensure_ascii=False))
    elif sys.stdout.isatty():
        laid_out(*framed([("Trenchword", turn.reply.text)], is_loud(turn.outcome.public())))
    else:
        print(turn.reply.text)
    return 0
