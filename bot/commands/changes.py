"""`trenchword changes`: what the office changed, and the way back where the office cannot be opened."""

import argparse
from datetime import UTC, datetime
from pathlib import Path

from bot.commands import Commands, UsageError
from bot.commands.log import existing
from bot.config import revisions, shipped
from bot.config.settings import Settings
from bot.config.shipped import PEOPLE
from bot.storage.turns import Store

BY_COMMAND = "(command)"


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("changes", help="files changed in the office, and how to undo them")
    what = command.add_subparsers(metavar="list|show|shipped", required=True)
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument("--db", type=Path, default=Settings().db, metavar="FILE")

    listing = what.add_parser("list", parents=[shared], help="every change, newest first")
    listing.set_defaults(run=run, work=_list)

    show = what.add_parser("show", parents=[shared], help="the text of a file after a change")
    show.add_argument("change", type=int)
    show.set_defaults(run=run, work=_show)

    back = what.add_parser(
        "shipped", parents=[shared], help="put a file back as it came; restart the service"
    )
    back.add_argument("file", metavar="FILE", help="soils.toml, kits/light.toml, words/en.toml, people.toml")
    back.add_argument("--people", type=Path, metavar="FILE", help="the one given to serve, for people.toml")
    back.add_argument("--why", default="put back as it came", metavar="REASON")
    back.set_defaults(run=run, work=_shipped)


def run(args: argparse.Namespace) -> int:
    """Do what was asked, all of it or nothing."""
    store = Store(existing(args.db))
    try:
        with store.transaction():
            args.work(store, args)
    finally:
        store.close()
    return 0


def _list(store: Store, args: argparse.Namespace) -> None:
    for change in revisions.page(store.db, most=1 << 62):
        by = change.user or "as it came"
        print(f"{change.number}  {change.at[:16]}  {change.file}  {by}: {change.why or ''}".rstrip(" :"))


def _show(store: Store, args: argparse.Namespace) -> None:
    change = revisions.find(store.db, args.change)
    if change is None or change.text is None:
        raise UsageError(f"changes: there is no change {args.change}, or its text was erased")
    print(change.text, end="")


def _shipped(store: Store, args: argparse.Namespace) -> None:
    if args.file not in revisions.latest(store.db):
        raise UsageError(f"changes: {args.file} was never changed in the office")
    listed = args.people.read_text(encoding="utf-8") if args.people else ""
    came = (shipped.shipped() | {PEOPLE: listed}).get(args.file, "")
    number = revisions.put(store.db, args.file, came, came, args.why, BY_COMMAND, datetime.now(UTC))
    print(f"{args.file} is as it came (change {number}). Start the service again.")
