"""`trenchword log`: the exchanges on record, and whether anybody changed them."""

import argparse
import json
from collections.abc import Iterator
from dataclasses import asdict, fields, replace
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlite_utils import Database

from bot.commands import Commands, UsageError, framed, is_loud, laid_out, progress
from bot.config import revisions
from bot.config.basis import Basis
from bot.config.in_force import InForce
from bot.config.settings import Settings
from bot.language.unseen import plain
from bot.storage import log, pictures
from knowledge.sheet import SheetLine

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table
    from rich.text import Text

SHOWN = ("exchange", "site", "trench", "rulebook", "kind", "name", "role", "sent_at", "text", "reply")


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
    rows = log.page(db, wanted, args.before, args.most, ("*",) if args.json else log.LISTED)
    if args.json:
        for row in rows:
            print(_json(row))
    elif not rows:
        print("No exchange fits.")
    else:
        laid_out(_table(rows))
        if len(rows) == args.most:
            print(f"Older ones: --before {rows[-1]['exchange']}")
    return 0


def _show(db: Database, args: argparse.Namespace) -> int:
    row = log.exchange(db, args.exchange)
    if row is None:
        raise UsageError(f"log: there is no exchange {args.exchange}")
    came = pictures.of_exchange(db, args.exchange)
    if args.json:
        print(_json(row | {"pictures": [asdict(each) for each in came]} if came else row))
        return 0
    laid_out(*_whole(row))
    for each in came:
        told = f"{each.wide} x {each.high} pixels, {each.kilobytes} kB" if each.kilobytes else each.told
        print(f"picture {each.number}: {told}")
    return 0


def _verify(db: Database, args: argparse.Namespace) -> int:
    with progress("Checking the chain") as tell:
        chain, saved, seen = log.verify(db, tell), revisions.verify(db), pictures.verify(db)
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


def _table(rows: list[dict[str, Any]]) -> "Table":
    """A page of the log, a row an exchange: what was written above what was answered."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for head in ("no.", "sent", "who", "trench", "kind"):
        table.add_column(head, no_wrap=True)
    table.add_column("text, and the answer's first line", overflow="fold")
    for row in rows:
        said = Text(plain(row["text"] or "(erased)"))
        said.append(f"\n{plain((row['reply'] or '').partition(chr(10))[0])}", style="dim")
        table.add_row(
            str(row["exchange"]),
            row["sent_at"][:16].replace("T", " "),
            Text(plain(row["name"] or row["sender"] or "-")),
            Text(plain(row["trench"] or "-")),
            _kind(row),
            said,
        )
    return table


def _kind(row: dict[str, Any]) -> "Text":
    from rich.text import Text

    loud = row["hazard"] or is_loud(row)
    return Text("HAZARD" if row["hazard"] else row["kind"], style="bold red" if loud else "")


def _whole(row: dict[str, Any]) -> "Iterator[RenderableType]":
    """An exchange: who wrote what and what was answered, how that was worked, and its place in the chain."""
    from rich.text import Text

    parsed = _parsed(row)
    outcome = parsed.pop("outcome") or {}
    sheet = outcome.pop("sheet", [])
    where = " · ".join(plain(row[name]) for name in ("site", "trench", "rulebook", "kind") if row[name])
    who = plain(f"{row['name'] or row['sender'] or '-'} ({row['role'] or 'nobody known'})")
    yield Text(f"no. {row['exchange']} · {where}", style="bold")
    texts = [(f"{who}, {row['sent_at'][:16]}", row["text"] or "(erased)")]
    texts += [("Trenchword", row["reply"] or "(erased)")]
    texts += [(f"to {each['to']}: {each['why']}", each["text"]) for each in parsed.pop("alerts") or []]
    yield from framed(texts, is_loud(outcome))
    yield from _fields("read as", parsed.pop("reading") or {})
    yield from _fields("decided", outcome)
    if sheet:
        yield from _sheet(sheet)
    yield from _fields("on record", {k: v for k, v in parsed.items() if k not in SHOWN})


def _fields(title: str, told: dict[str, Any]) -> "Iterator[RenderableType]":
    """Names and values, without those that are empty."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, show_header=False, pad_edge=False, title=f"\n{title}", title_justify="left")
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    for name, value in told.items():
        if value not in (None, "", [], {}):
            table.add_row(name, Text(plain(value if isinstance(value, str) else _json(value))))
    if table.row_count:
        yield table


def _sheet(lines: list[dict[str, Any]]) -> "Iterator[RenderableType]":
    """The calculation sheet, part by part."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, title="\nsheet:", title_justify="left", padding=(0, 2, 0, 0))
    for head, share in (("", 3), ("formula, its figures, what comes of it", 5), ("source", 2)):
        table.add_column(head, overflow="fold", ratio=share)
    for part, group in groupby((SheetLine(**line) for line in lines), lambda line: line.part):
        if part:
            table.add_row(Text(f"\n{part}", style="bold"))
        for line in group:
            bare = replace(line, name="", source="")
            worked = Text(str(bare).removesuffix("   []"), style="bold red" if line.holds is False else "")
            table.add_row(Text(line.name), worked, Text(line.source, style="dim"))
    yield table


def _parsed(row: dict[str, Any]) -> dict[str, Any]:
    return {
        name: json.loads(value) if name in log.JSON_COLUMNS and value is not None else value
        for name, value in row.items()
    }


def _json(data: Any) -> str:
    return json.dumps(_parsed(data) if isinstance(data, dict) else data, ensure_ascii=False)
