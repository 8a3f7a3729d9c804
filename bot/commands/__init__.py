"""The command line: one file a command; here, what they share."""

import argparse
import io
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING, Any

from bot.language.unseen import plain

if TYPE_CHECKING:
    from rich.console import RenderableType

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]
else:
    Commands = object


class UsageError(Exception):
    """The command cannot do what was asked. The text is one clear line."""


def parser(argv: Sequence[str] = ()) -> argparse.ArgumentParser:
    """The command line: whole, or only the command that `argv` names, since the others take time to load."""
    whole = argparse.ArgumentParser(
        prog="trenchword", description="Answers a trench crew's texts with a sized hydraulic shoring plan."
    )
    found = whole.add_subparsers(metavar="COMMAND", required=True)
    names = [each.name for each in iter_modules(__path__)]
    for name in [name for name in names if name in argv[:1]] or names:
        import_module(f"{__name__}.{name}").add(found)
    return whole


Tell = Callable[[int, int], None]
"""Told how much is done, and of how much."""
PIPED_WIDE = 110  # columns where nobody's window says


def laid_out(*parts: "RenderableType") -> None:
    """Print for people: as wide as their window, in colours only where it takes them and NO_COLOR does not
    forbid it."""
    # It takes a tenth of a second to load, which no other command should pay.
    from rich.console import Console

    seen = sys.stdout.isatty()
    wide = shutil.get_terminal_size((PIPED_WIDE, 0)).columns if seen else PIPED_WIDE
    made = Console(file=io.StringIO(), force_terminal=seen, width=wide, highlight=False, markup=False)
    for part in parts:
        made.print(part)
    # Through print: where the reader has gone, the program ends as it does everywhere.
    print("\n".join(line.rstrip() for line in made.file.getvalue().rstrip().splitlines()))  # type: ignore[attr-defined]


def is_loud(outcome: Mapping[str, Any]) -> bool:
    """Whether what was decided must not be passed over: a hazard, a stop, no answer at all."""
    return outcome.get("kind") in ("stop", "failed") or bool(outcome.get("hazards"))


def framed(texts: Iterable[tuple[str, str]], loud: bool = False) -> "Iterator[RenderableType]":
    """Texts as phones would show them: each in a frame, over it who said it or whom it is to; red where
    `loud`."""
    from rich.panel import Panel
    from rich.text import Text

    for title, text in texts:
        yield Panel(
            Text(plain(text)), title=Text(title), title_align="left", border_style="bold red" if loud else ""
        )


@contextmanager
def progress(what: str) -> Iterator[Tell]:
    """What is left of long work and how long that will take, on standard error, where a person watches it."""
    if not sys.stderr.isatty():
        yield lambda done, of: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("left:"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        task = shown.add_task(what, total=None)
        yield lambda done, of: shown.update(task, completed=done, total=of)


def watched(lines: Iterable[str], of: int, tell: Tell) -> Iterator[str]:
    """The lines, each told of as it is taken."""
    for done, line in enumerate(lines):
        tell(done, of)
        yield line
