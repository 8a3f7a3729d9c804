"""`trenchword play`: play demo chats and show whether they still say the same."""

import argparse
from collections.abc import Iterator
from pathlib import Path

from bot.commands import Commands, Tell, progress
from bot.config.basis import Basis
from bot.demo.chat_file import read_story, rewritten
from bot.demo.play import Played, play


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("play", help="play demo chats and compare them with their files")
    command.add_argument("files", nargs="+", type=Path, metavar="FILE")
    command.add_argument("--rewrite", action="store_true", help="rewrite the Bot lines, never a Check")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print each story as played. 1 where one differs from its file."""
    basis = Basis.load()
    differs: list[str] = []
    with progress("Playing") as tell:
        said = list(_played(args, basis, differs, tell))
    print("\n".join(said))
    print("\n".join(["DIFFERS", *differs]) if differs else "As written.")
    return 1 if differs else 0


def _played(args: argparse.Namespace, basis: Basis, differs: list[str], tell: Tell) -> Iterator[str]:
    """Each story as played; what differs is added to `differs`."""
    for done, file in enumerate(args.files):
        tell(done, len(args.files))
        story = read_story(file)
        played = play(story, basis)
        yield from map(shown, played)
        if args.rewrite:
            file.write_text(rewritten(story, [(one.bot, one.others) for one in played]), encoding="utf-8")
            played = play(read_story(file), basis)
        differs += [f"{file.name}: {why}" for one in played for why in one.differs]


def shown(one: Played) -> str:
    """A text and what came of it, as the file would write it."""
    lines = [f"{one.said.name} ({one.said.role}): {one.said.text}"]
    lines += [f"Bot: {text}" for text in one.bot]
    lines += [f"Bot to {name}: {text}" for name, text in one.others]
    return "\n".join(lines)
