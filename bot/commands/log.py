"""`trenchword log`: the exchanges on record, and whether anybody changed them."""

import argparse
import json
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from bot.commands import Commands, UsageError
from bot.config import revisions
from bot.config.basis import Basis
from bot.config.in_force import InForce
from bot.config.settings import Settings
from bot.storage import log, pictures
from knowledge.sheet import SheetLine


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("log", help="show the log, or verify that it is whole")
    what = command.add_subparsers(metavar="list|show|verify", required=True)
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument("--db", type=Path, default=Settings().db, metavar="FILE")
    shared.add_argument("--json", action="store_true", help="one JSON object a line")

    listing = what.add_parser("list", parents=[shared], help="exchanges, newest first")
    for field in fields(log.LogFilter):
        choices = tuple(log.ABOUT) if field.name == "about" else None
        listing.add_argument(f"--{field.name}", choices=choices)
    listing.add_argument("--before", type=int, metavar="EXCHANGE", help="go on from there")
    listing.add_argument("--most", type=int, default=50)
    listing.set_defaults(run=run, work=_list)

    show = what.add_parser("show", parents=[shared], help="one exchange whole, with its calculation sheet")
    show.add_argument("exchange", type=int)
    show.set_defaults(run=run, work=_show)

    check = what.add_parser("verify", parents=[shared], help="check that each turn covers the one before")
    check.set_defaults(run=run, work=_verify)


def run(args: argparse.Namespace) -> int:
    """Open the log for reading, and do what was asked."""
    db = log.open_to_read(existing(args.db))
    try:
        return int(args.work(db, args))
    except UnicodeDecodeError as error:
        raise UsageError(f"{args.db} is damaged: bring back a copy of it") from error
    finally:
        db.close()


def existing(file: Path) -> Path:
    """The file, if it is there. Raises UsageError."""
    if not file.exists():
        raise UsageError(f"there is no file {file}")
    return file


def basis_of(file: Path | None) -> Basis:
    """The basis as the office of that database changed it; without one, as it came."""
    if file is None:
        return Basis.load()
    db = log.open_to_read(existing(file))
    try:
        return InForce.load(db).basis
    finally:
        db.close()


def _list(db: Database, args: argparse.Namespace) -> int:
    wanted = log.LogFilter(**{field.name: getattr(args, field.name) for field in fields(log.LogFilter)})
    for row in log.page(db, wanted, args.before, args.most):
        print(_json(row) if args.json else _brief(row))
    return 0


def _show(db: Database, args: argparse.Namespace) -> int:
    row = log.exchange(db, args.exchange)
    if row is None:
        raise UsageError(f"log: there is no exchange {args.exchange}")
    came = pictures.of_exchange(db, args.exchange)
    if args.json:
        print(_json(row | {"pictures": [asdict(each) for each in came]} if came else row))
        return 0
    print(_whole(row))
    for each in came:
        told = f"{each.wide} x {each.high} pixels, {each.kilobytes} kB" if each.kilobytes else each.told
        print(f"picture {each.number}: {told}")
    return 0


def _verify(db: Database, args: argparse.Namespace) -> int:
    chain, saved, seen = log.verify(db), revisions.verify(db), pictures.verify(db)
    if args.json:
        print(json.dumps(asdict(chain) | {"changes": asdict(saved), "pictures": asdict(seen)}))
    elif chain.broken_at is None:
        print(f"Whole: {chain.turns} exchanges, {chain.erased} with their words erased. Head {chain.head}")
    else:
        print(f"BROKEN at exchange {chain.broken_at}: {chain.why}. Whole up to {chain.turns}.")
    if saved.broken_at is not None and not args.json:
        print(f"BROKEN at change {saved.broken_at}: {saved.why}.")
    elif saved.turns and not args.json:
        print(f"Whole: {saved.turns} changes of files. Head {saved.head}")
    if seen.broken_at is not None and not args.json:
        print(f"BROKEN at picture {seen.broken_at}: {seen.why}.")
    elif seen.turns and not args.json:
        print(f"Whole: {seen.turns} pictures, {seen.erased} erased. Head {seen.head}")
    return int(any(each.broken_at is not None for each in (chain, saved, seen)))


def _brief(row: dict[str, Any]) -> str:
    first = (row["reply"] or "").partition("\n")[0]
    who = row["name"] or row["sender"] or "-"
    return f"{row['exchange']}  {row['sent_at'][:16]}  {who}: {row['text']}\n    {row['kind']}: {first}"


def _whole(row: dict[str, Any]) -> str:
    parsed = _parsed(row)
    sheet = (parsed.get("outcome") or {}).pop("sheet", [])
    lines = [f"{name}: {value if isinstance(value, str) else _json(value)}" for name, value in parsed.items()]
    return "\n".join([*lines, "sheet:", *(f"  {SheetLine(**line)}" for line in sheet)])


def _parsed(row: dict[str, Any]) -> dict[str, Any]:
    return {
        name: json.loads(value) if name in log.JSON_COLUMNS and value is not None else value
        for name, value in row.items()
    }


def _json(data: Any) -> str:
    return json.dumps(_parsed(data) if isinstance(data, dict) else data, ensure_ascii=False)
