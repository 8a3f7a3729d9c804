"""`trenchword user`: who may sign in to the office."""

import argparse
import getpass
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import get_args

from bot.commands import Commands, UsageError
from bot.config.settings import Settings
from bot.office import users
from bot.storage.turns import Store


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("user", help="manage who may sign in to the office")
    what = command.add_subparsers(metavar="add|remove|list", required=True)
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument("--db", type=Path, default=Settings().db, metavar="FILE")

    new = what.add_parser("add", parents=[shared], help="make a user; the password is asked for")
    new.add_argument("name", metavar="NAME")
    new.add_argument("--role", choices=get_args(users.OfficeRole), required=True)
    new.set_defaults(run=run, work=_add)

    gone = what.add_parser("remove", parents=[shared], help="take a user away and sign them out")
    gone.add_argument("name", metavar="NAME")
    gone.set_defaults(run=run, work=lambda store, args: users.remove(store.db, args.name))

    listing = what.add_parser("list", parents=[shared], help="every user and their role")
    listing.set_defaults(run=run, work=_list)


def run(args: argparse.Namespace) -> int:
    """Do what was asked, all of it or nothing."""
    work: Callable[[Store, argparse.Namespace], None] = args.work
    store = Store(args.db)
    try:
        with store.transaction():
            work(store, args)
    except users.UserError as error:
        raise UsageError(f"user: {error}") from error
    finally:
        store.close()
    return 0


def _add(store: Store, args: argparse.Namespace) -> None:
    users.add(store.db, args.name, args.role, _password(), datetime.now(UTC))
    print(f"{args.name} may sign in ({args.role}).")


def _list(store: Store, args: argparse.Namespace) -> None:
    for user in users.every(store.db):
        print(f"{user.name}  {user.role}")


def _password() -> str:
    """Asked for twice in a terminal; else the first line of standard input. Others could see a flag."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    password = getpass.getpass("Password: ")
    if getpass.getpass("Once more: ") != password:
        raise UsageError("user: the two passwords differ")
    return password
