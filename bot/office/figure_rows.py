"""The figures of a data file as rows, each with where it comes from; a changed one says so anew."""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from bot.office.toml_edit import KeyPath
from knowledge.sourced import DataError

ORIGIN = ("source", "at", "checked")
UNITS = {"mm2": "mm²", "mm3": "mm³", "kn": "kN", "gpa": "GPa"} | {
    unit: unit for unit in ("m", "mm", "kg", "bar")
}
FILES = {
    "soils.toml": "Soils: weight and strength of each kind of ground",
    "pressures.toml": "Ground pressure, surcharge, bearing and base",
    "practice.toml": "Figures of the trade that an engineer may change",
    "rules.toml": "Rules: what stops a sizing, and what is said beside an answer",
    "entry.toml": "Entry: what must be on record before anybody goes in",
    "hazards.toml": "Hazards: what to do at once",
    "steps.toml": "Steps of digging in and taking out",
    "lifting.toml": "Lifting by hand",
    "coverage.toml": "What of the rulebooks is handled, and where",
    "sources.toml": "Sources of the figures",
    "rulebook_uk.toml": "Rulebook: Great Britain",
    "rulebook_us.toml": "Rulebook: United States, 29 CFR 1926 Subpart P",
    "people.toml": "People and sites",
}
LANGUAGES = {"en": "English", "es": "Spanish", "pl": "Polish", "pt": "Portuguese", "ro": "Romanian"}
NAMES = ("name", "kind", "state", "id")  # what a row of a list is told by


def called(file: str) -> str:
    """What people call a data file."""
    folder, _, name = file.rpartition("/")
    stem = name.removesuffix(".toml")
    if folder == "kits":
        return f"Kit: {stem}"
    if folder == "words":
        return f"Words of crews, and of the answers: {LANGUAGES.get(stem, stem)}"
    return FILES.get(file, stem.replace("_", " ").capitalize())


@dataclass(frozen=True)
class EditableFigure:
    """One figure: where it stands, what it is called inside its row, the unit that stands beside it."""

    path: KeyPath
    label: str
    value: float
    unit: str


@dataclass(frozen=True)
class FigureRow:
    """Figures that share one source."""

    path: KeyPath
    title: str
    numbers: tuple[EditableFigure, ...]
    source: str
    at: str
    checked: str


def rows(text: str) -> list[FigureRow]:
    """Every row of a data file, in its order. The text must be valid TOML."""
    return list(_rows((), (), tomllib.loads(text)))


def check_sources(file: str, before: str, after: str, today: date) -> None:
    """Raise DataError where a figure changed and still names the old source as checked on the old day.

    Where rows were added or taken out nothing can be told: whoever does that changes the text itself.
    """
    then, now = ({row.path: row for row in rows(text)} for text in (before, after))
    for path, row in now.items():
        old = then.get(path)
        if row.checked > today.isoformat() and (old is None or old.checked != row.checked):
            raise DataError(f"{file}: {row.title}: checked: this day is still to come")
        if then.keys() == now.keys() and old and _unsourced(old, row, today):
            raise DataError(
                f"{file}: {row.title}: a changed figure needs its source: say where it comes from, and"
                " the day it was checked"
            )


def _unsourced(old: FigureRow, row: FigureRow, today: date) -> bool:
    changed = [number.value for number in old.numbers] != [number.value for number in row.numbers]
    origin = (row.source, row.at, row.checked)
    return changed and origin == (old.source, old.at, old.checked) and row.checked != today.isoformat()


def _rows(path: KeyPath, titles: KeyPath, value: Any) -> Iterator[FigureRow]:
    if isinstance(value, dict) and {"source", "checked"} <= value.keys():
        numbers = tuple(_numbers(path, (), value))
        if numbers:
            origin = (str(value.get(key, "")) for key in ORIGIN)
            yield FigureRow(path, " · ".join(titles) or "the whole file", numbers, *origin)
    for key, title, each in _inside(value):
        yield from _rows((*path, key), (*titles, title), each)


def _numbers(path: KeyPath, titles: KeyPath, value: Any) -> Iterator[EditableFigure]:
    """The figures of a row, but for those that have a source of their own."""
    for key, title, each in _inside(value):
        place, called = (*path, key), (*titles, title)
        if isinstance(each, dict) and {"source", "checked"} <= each.keys():
            continue
        if isinstance(each, int | float) and not isinstance(each, bool):
            *words, last = " ".join(called).split(" ")
            beside = str(value.get("unit", "")) if isinstance(value, dict) else ""
            unit = beside or UNITS.get(last, "")
            yield EditableFigure(place, " ".join(words if unit and not beside else called), each, unit)
        else:
            yield from _numbers(place, called, each)


def _inside(value: Any) -> Iterator[tuple[str, str, Any]]:
    """What stands in a table or list: key, what people call it, value."""
    if isinstance(value, dict):
        yield from ((key, key.replace("_", " "), each) for key, each in value.items())
    elif isinstance(value, list):
        yield from ((str(at), _told_by(at, each), each) for at, each in enumerate(value))


def _told_by(at: int, each: Any) -> str:
    names = [str(each[key]) for key in NAMES if each.get(key)] if isinstance(each, dict) else []
    return " ".join(reversed(names)) or str(at + 1)
