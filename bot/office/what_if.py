"""What a changed data file would change: checked by the real loader, tried on the open trenches."""

import shutil
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from bot.message import Site
from bot.office.again import Difference, changed, differences
from bot.scene import shift
from knowledge import tables as books
from knowledge.entry import entry
from knowledge.sizing import size
from knowledge.tables import DATA, Tables
from knowledge.trench import Trench, rebuild


@dataclass(frozen=True)
class Consequence:
    """An open trench that would be answered otherwise."""

    site: Site
    trench: Trench
    differences: tuple[Difference, ...]


def data_files() -> list[str]:
    """Every data file, as "kits/light.toml"."""
    return sorted(file.relative_to(DATA).as_posix() for file in DATA.rglob("*.toml"))


def text_of(name: str) -> str:
    """A data file as it stands. Raises KeyError where there is none of that name."""
    if name not in data_files():
        raise KeyError(name)
    return (DATA / name).read_text(encoding="utf-8")


def tables_with(name: str, text: str) -> Tables:
    """The tables as they would be with this text in that file. Raises DataError with file, key and reason."""
    with tempfile.TemporaryDirectory(prefix="trenchword-") as folder:
        whole = Path(folder) / "data"
        shutil.copytree(DATA, whole)
        (whole / name).write_text(text, encoding="utf-8")
        return books.load(whole)


def consequences(
    trenches: Iterable[tuple[Site, Trench]], now: datetime, before: Tables, after: Tables
) -> list[Consequence]:
    """The trenches whose sizing or state of entry would differ."""
    found = []
    for site, trench in trenches:
        each = (*_sizing(trench, before, after), *_entry(site, trench, now, before, after))
        if each:
            found.append(Consequence(site, trench, each))
    return found


def _sizing(trench: Trench, before: Tables, after: Tables) -> tuple[Difference, ...]:
    if trench.plan is None:
        return ()
    figures = trench.now.planned or trench.now.whole
    then, now = (size(figures, tables, trench.rulebook, trench.kit) for tables in (before, after))
    return differences(then.public(), now.public())


def _entry(
    site: Site, trench: Trench, now: datetime, before: Tables, after: Tables
) -> tuple[Difference, ...]:
    again = rebuild(trench.ref, trench.site, trench.rulebook, trench.kit, trench.events, after)
    day = shift(site)
    then, today = entry(trench, now, before, day), entry(again, now, after, day)
    return tuple(changed(_said(then.public()), _said(today.public())))


def _said(outcome: dict[str, object]) -> dict[str, object]:
    return {name: outcome[name] for name in ("entry", "missing", "until")}
